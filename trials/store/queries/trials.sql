-- Answers: which trials are there, and where does each stand in its season?
-- One row per trial.
-- Parameters: none.
WITH plots AS (SELECT trial, count(*) AS plots FROM plot GROUP BY trial),
picked AS (SELECT DISTINCT p.trial FROM plot AS p SEMI JOIN cut USING (plot))
SELECT t.trial, t.season, t.site, t.crop, t.question, t.check_level, t.primary_measure, t.alpha,
       CAST(trim(rtrim(t.margin, '% ')) AS DOUBLE) AS margin_value,
       contains(t.margin, '%') AS margin_percent,
       t.shortest_length_cm,
       CASE WHEN c.trial IS NOT NULL THEN 'closed'
            WHEN picked.trial IS NOT NULL THEN 'picking'
            ELSE 'laid out' END AS stage,
       coalesce(plots.plots, 0) AS plots,
       c.closed_on
FROM trial AS t
LEFT JOIN plots USING (trial)
LEFT JOIN picked USING (trial)
LEFT JOIN closing AS c USING (trial)
ORDER BY t.season, t.trial;
