-- Answers: which trials are there, and where does each stand in its season?
-- One row per trial.
-- Parameters: none.
WITH plots AS (SELECT trial, count(*) AS plots FROM plot GROUP BY trial),
picked AS (SELECT DISTINCT p.trial FROM plot AS p SEMI JOIN cut USING (plot)),
planted AS (
    SELECT p.trial FROM plot AS p JOIN planting AS g USING (plot) WHERE g.transplanted_on IS NOT NULL
    UNION
    SELECT trial FROM event WHERE kind = 'planted'
)
SELECT t.trial, t.season, t.site, t.crop, t.question, t.check_level, t.primary_measure, t.alpha,
       CAST(trim(rtrim(t.equivalence_margin, '% ')) AS DOUBLE) AS margin_value,
       contains(t.equivalence_margin, '%') AS margin_percent,
       t.minimum_length_cm,
       CASE WHEN c.trial IS NOT NULL THEN 'closed'
            WHEN picked.trial IS NOT NULL THEN 'picking'
            WHEN planted.trial IS NOT NULL THEN 'planted'
            ELSE 'laid out' END AS stage,
       coalesce(plots.plots, 0) AS plots,
       c.closed_on
FROM trial AS t
LEFT JOIN plots USING (trial)
LEFT JOIN picked USING (trial)
LEFT JOIN planted USING (trial)
LEFT JOIN closing AS c USING (trial)
ORDER BY t.season, t.trial;
