-- Answers: how many measured stems does each plot's stem length rest on, and how surely?
-- One row per plot; share: the variance of its length as a share of one stem's, by the weights that
-- plots.sql gives to the days; squares and freedom: of stems about the mean of their plot and day.
-- Parameters: $trial.
WITH
tally AS (/* tallied_days */),
day AS (
    SELECT c.plot, c.cut_on, sum(l.stems) AS graded
    FROM tally AS c
    JOIN (/* cut_lines */) AS l ON l.plot = c.code AND l.cut_on = c.cut_on
    WHERE c.outcome = 'picked' AND l.grade_cm IS NOT NULL
    GROUP BY c.plot, c.cut_on
    HAVING sum(l.stems) > 0
),
sample AS (
    SELECT c.plot, c.cut_on, count(*) AS stems,
           count(*) * var_pop(s.length_cm ORDER BY s.stem) AS squares
    FROM stem_sample AS s
    JOIN tally AS c ON c.code = s.plot AND c.cut_on = s.cut_on
    GROUP BY c.plot, c.cut_on
)
SELECT s.plot, CAST(sum(s.stems) AS BIGINT) AS stems,
       sum(power(d.graded, 2) / s.stems ORDER BY s.cut_on) / power(sum(d.graded), 2) AS share,
       sum(s.squares ORDER BY s.cut_on) AS squares,
       CAST(sum(s.stems - 1) AS BIGINT) AS freedom
FROM sample AS s
JOIN day AS d USING (plot, cut_on)
GROUP BY s.plot
ORDER BY s.plot;
