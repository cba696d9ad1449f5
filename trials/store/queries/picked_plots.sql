-- Answers: which plots of the trial were ever picked?
-- One row per plot.
-- Parameters: $trial.
WITH tally AS (/* tallied_days */)
SELECT DISTINCT plot
FROM tally
WHERE outcome = 'picked'
ORDER BY plot;
