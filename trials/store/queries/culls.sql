-- Answers: why were stems of each plot thrown out?
-- One row per plot that was not lost, and reason.
-- Parameters: $trial.
WITH
stake AS (/* stakes */),
tally AS (  -- picking days by the ground they were picked on, whichever stake stood there
    SELECT coalesce(k.plot, c.plot) AS plot, c.plot AS code, c.cut_on, c.outcome
    FROM cut AS c
    JOIN plot AS p ON p.plot = c.plot
    LEFT JOIN stake AS k
        ON k.stake = c.plot AND c.cut_on >= k.from_day
        AND (k.until_day IS NULL OR c.cut_on < k.until_day)
    WHERE p.trial = $trial
)
SELECT c.plot, l.cull_reason, CAST(sum(l.stems) AS BIGINT) AS stems
FROM tally AS c
JOIN (/* cut_lines */) AS l ON l.plot = c.code AND l.cut_on = c.cut_on
ANTI JOIN (SELECT trial, plot FROM event WHERE kind = 'lost') AS e
    ON e.trial = $trial AND (e.plot = c.plot OR e.plot IS NULL)
WHERE l.cull_reason IS NOT NULL
GROUP BY c.plot, l.cull_reason
ORDER BY c.plot, l.cull_reason;
