-- Answers: what was each plot given?
-- One row per plot and factor.
-- Parameters: none.
SELECT l.trial, l.plot, l.factor, l.level
FROM plot_level AS l
JOIN factor AS f USING (trial, factor)
ORDER BY l.trial, f.place, l.plot;
