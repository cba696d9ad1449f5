-- Answers: what was cut at each plot of the trial, day by day?
-- One row per plot and picking day; stems and culls are NULL where the pick was missed, and culls
-- where the whole trial never tallied any.
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
SELECT c.plot, c.cut_on, c.outcome,
       CAST(CASE WHEN c.outcome = 'picked'
                 THEN coalesce(sum(l.stems) FILTER (l.grade_cm IS NOT NULL), 0) END AS DOUBLE) AS stems,
       CAST(CASE WHEN c.outcome = 'picked' AND sum(count(l.cull_reason)) OVER () > 0
                 THEN coalesce(sum(l.stems) FILTER (l.cull_reason IS NOT NULL), 0) END AS DOUBLE) AS culls
FROM tally AS c
LEFT JOIN (/* cut_lines */) AS l ON l.plot = c.code AND l.cut_on = c.cut_on
GROUP BY c.plot, c.cut_on, c.outcome
ORDER BY c.cut_on, c.plot;
