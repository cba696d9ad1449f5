-- Answers: which grades and reasons for culling does a trial use?
-- One row per grade or reason. The days of a trial have few different lists of them.
-- Parameters: $trial.
WITH used AS MATERIALIZED (
    SELECT DISTINCT map_keys(stems_by_grade) AS grades, map_keys(culls_by_reason) AS reasons
    FROM cut
    JOIN plot USING (plot)
    WHERE trial = $trial
)
SELECT DISTINCT grade_cm, cull_reason
FROM (
    SELECT unnest(grades) AS grade_cm, NULL AS cull_reason FROM used
    UNION ALL
    SELECT NULL, unnest(reasons) FROM used
)
ORDER BY grade_cm, cull_reason;
