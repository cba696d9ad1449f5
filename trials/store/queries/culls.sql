-- Answers: why were stems of each plot thrown out?
-- One row per plot that was not lost, and reason.
-- Parameters: $trial.
WITH tally AS (/* tallied_days */)
SELECT c.plot, l.cull_reason, CAST(sum(l.stems) AS BIGINT) AS stems
FROM tally AS c
JOIN (/* cut_lines */) AS l ON l.plot = c.code AND l.cut_on = c.cut_on
ANTI JOIN (SELECT trial, plot FROM event WHERE kind = 'lost') AS e
    ON e.trial = $trial AND (e.plot = c.plot OR e.plot IS NULL)
WHERE l.cull_reason IS NOT NULL
GROUP BY c.plot, l.cull_reason
ORDER BY c.plot, l.cull_reason;
