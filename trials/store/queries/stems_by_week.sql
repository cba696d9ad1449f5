-- Answers: how many stems of each grade did each plot of the trial give, week by week of its cutting?
-- One row per plot (not lost), week since its first marketable cut (0 = the first) and grade.
-- Parameters: $trial, $shortest_cm (NULL = the trial's own shortest saleable length).
WITH
tally AS (/* tallied_days */),
line AS (
    SELECT c.plot, c.cut_on, l.grade_cm, l.stems
    FROM tally AS c
    JOIN plot AS p ON p.plot = c.plot
    JOIN trial AS t ON t.trial = p.trial
    JOIN (/* cut_lines */) AS l ON l.plot = c.code AND l.cut_on = c.cut_on
    ANTI JOIN (SELECT trial, plot FROM event WHERE kind = 'lost') AS e
        ON e.trial = p.trial AND (e.plot = p.plot OR e.plot IS NULL)
    WHERE c.outcome = 'picked' AND l.stems > 0
      AND l.grade_cm >= round(coalesce($shortest_cm, t.minimum_length_cm))
),
first AS (SELECT plot, min(cut_on) AS first_cut FROM line GROUP BY plot)
SELECT plot, CAST(date_diff('day', first_cut, cut_on) // 7 AS INTEGER) AS week, grade_cm,
       CAST(sum(stems) AS BIGINT) AS stems
FROM line
JOIN first USING (plot)
GROUP BY plot, week, grade_cm
ORDER BY plot, week, grade_cm;
