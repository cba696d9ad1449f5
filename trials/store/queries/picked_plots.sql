-- Answers: which plots of the trial were ever picked?
-- One row per plot.
-- Parameters: $trial.
SELECT p.plot
FROM plot AS p
SEMI JOIN (SELECT plot FROM cut WHERE outcome = 'picked') AS c USING (plot)
WHERE p.trial = $trial
ORDER BY p.plot;
