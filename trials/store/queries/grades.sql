-- Answers: how many stems of each length grade did each plot give over the season?
-- One row per plot that was picked and not lost, and grade found in the trial (0 = none of it).
-- Parameters: $trial.
WITH
tally AS (/* tallied_days */),
here AS (
    SELECT p.plot
    FROM plot AS p
    SEMI JOIN (SELECT plot FROM tally WHERE outcome = 'picked') AS c USING (plot)
    ANTI JOIN (SELECT trial, plot FROM event WHERE kind = 'lost') AS e
        ON e.trial = p.trial AND (e.plot = p.plot OR e.plot IS NULL)
    WHERE p.trial = $trial
),
line AS (
    SELECT c.plot, l.grade_cm, l.stems
    FROM tally AS c
    JOIN here USING (plot)
    JOIN (/* cut_lines */) AS l ON l.plot = c.code AND l.cut_on = c.cut_on
    WHERE l.grade_cm IS NOT NULL
),
grade AS (SELECT DISTINCT grade_cm FROM line)
SELECT h.plot, g.grade_cm, CAST(coalesce(sum(l.stems), 0) AS BIGINT) AS stems
FROM here AS h
CROSS JOIN grade AS g
LEFT JOIN line AS l ON l.plot = h.plot AND l.grade_cm = g.grade_cm
GROUP BY h.plot, g.grade_cm
ORDER BY h.plot, g.grade_cm;
