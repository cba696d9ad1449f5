-- Answers: which plots of the trial have measured stems?
-- One row per plot.
-- Parameters: $trial.
WITH tally AS (/* tallied_days */)
SELECT DISTINCT c.plot
FROM tally AS c
SEMI JOIN stem_sample AS s ON s.plot = c.code AND s.cut_on = c.cut_on
ORDER BY c.plot;
