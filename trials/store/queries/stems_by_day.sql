-- Answers: how many stems long enough to sell did each plot of the trial give, day by day?
-- One row per plot (not lost) and day on which it was picked (0 = none was long enough).
-- Parameters: $trial.
WITH tally AS (/* tallied_days */)
SELECT c.plot, c.cut_on,
       CAST(coalesce(sum(l.stems) FILTER (l.grade_cm >= round(t.minimum_length_cm)), 0) AS BIGINT)
           AS stems
FROM tally AS c
JOIN plot AS p ON p.plot = c.plot
JOIN trial AS t ON t.trial = p.trial
LEFT JOIN (/* cut_lines */) AS l ON l.plot = c.code AND l.cut_on = c.cut_on
ANTI JOIN (SELECT trial, plot FROM event WHERE kind = 'lost') AS e
    ON e.trial = p.trial AND (e.plot = p.plot OR e.plot IS NULL)
WHERE c.outcome = 'picked'
GROUP BY c.plot, c.cut_on
ORDER BY c.plot, c.cut_on;
