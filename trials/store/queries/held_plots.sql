-- Answers: which plots are held, and what was planted in them?
-- One row per plot, in the fixed columns of the sheet of plots (held_plot_levels has the factors).
-- Parameters: none.
SELECT p.trial, p.plot, p.block, w.whole_plot, p.bed, p.position, g.lot, g.plants_set,
       g.net_length_m, g.net_area_m2, g.transplanted_on,
       l.split_plot, l.incomplete_block, l.row_label AS "row", l.column_label AS "column"
FROM plot AS p
JOIN planting AS g USING (plot)
LEFT JOIN plot_place AS l USING (plot)
LEFT JOIN whole_plot AS w ON w.trial = p.trial AND w.number = p.whole_plot_number
ORDER BY p.trial, p.plot;
