-- Answers: why were stems of each plot thrown out?
-- One row per plot that was not lost, and reason.
-- Parameters: $trial.
SELECT l.plot, l.cull_reason, CAST(sum(l.stems) AS BIGINT) AS stems
FROM cut_line AS l
JOIN plot AS p USING (plot)
ANTI JOIN (SELECT trial, plot FROM event WHERE kind = 'lost') AS e
    ON e.trial = p.trial AND (e.plot = p.plot OR e.plot IS NULL)
WHERE p.trial = $trial AND l.cull_reason IS NOT NULL
GROUP BY l.plot, l.cull_reason
ORDER BY l.plot, l.cull_reason;
