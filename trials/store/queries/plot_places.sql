-- Answers: in which row, column and smaller block does each plot of the trial lie?
-- One row per plot of a layout that has any of them.
-- Parameters: $trial (NULL = every trial).
SELECT l.plot, l.row_label AS "row", l.column_label AS "column", l.incomplete_block, l.split_plot
FROM plot_place AS l
JOIN plot AS p USING (plot)
WHERE $trial IS NULL OR p.trial = $trial
ORDER BY l.plot;
