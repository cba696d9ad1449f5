-- Answers: which plots are held, and what was planted in them?
-- One row per plot, in the fixed columns of the sheet of plots (held_plot_levels has the factors).
-- Parameters: none.
SELECT p.trial, p.plot, p.block, w.whole_plot, p.bed, p.position, g.lot, g.plants_set,
       g.net_length_m, g.net_area_m2, g.transplanted_on
FROM plot AS p
JOIN planting AS g USING (plot)
LEFT JOIN whole_plot AS w ON w.trial = p.trial AND w.number = p.whole_plot_number
ORDER BY p.trial, p.plot;
