-- Answers: what was each plot of the trial given?
-- One row per plot and factor, the factors in the trial's order.
-- Parameters: $trial.
SELECT l.plot, l.factor, l.level
FROM plot_level AS l
JOIN factor AS f USING (trial, factor)
WHERE l.trial = $trial
ORDER BY f.place, l.plot;
