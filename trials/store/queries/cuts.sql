-- Answers: what was cut at each plot of the trial, day by day?
-- One row per plot and picking day; stems and culls are NULL where the pick was missed, and culls
-- where the whole trial never tallied any.
-- Parameters: $trial.
WITH tally AS (/* tallied_days */)
SELECT c.plot, c.cut_on, c.outcome,
       CAST(CASE WHEN c.outcome = 'picked'
                 THEN coalesce(sum(l.stems) FILTER (l.grade_cm IS NOT NULL), 0) END AS DOUBLE) AS stems,
       CAST(CASE WHEN c.outcome = 'picked' AND sum(count(l.cull_reason)) OVER () > 0
                 THEN coalesce(sum(l.stems) FILTER (l.cull_reason IS NOT NULL), 0) END AS DOUBLE) AS culls
FROM tally AS c
LEFT JOIN (/* cut_lines */) AS l ON l.plot = c.code AND l.cut_on = c.cut_on
GROUP BY c.plot, c.cut_on, c.outcome
ORDER BY c.cut_on, c.plot;
