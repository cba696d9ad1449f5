-- Answers: which plots of the trial have measured stems?
-- One row per plot.
-- Parameters: $trial.
SELECT p.plot
FROM plot AS p
SEMI JOIN stem_sample USING (plot)
WHERE p.trial = $trial
ORDER BY p.plot;
