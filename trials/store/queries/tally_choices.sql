-- Answers: which grades and reasons for culling does a trial use?
-- One row per grade or reason.
-- Parameters: $trial.
SELECT DISTINCT l.grade_cm, l.cull_reason
FROM (/* cut_lines */) AS l
JOIN plot AS p USING (plot)
WHERE p.trial = $trial AND coalesce(CAST(l.grade_cm AS VARCHAR), l.cull_reason) IS NOT NULL
ORDER BY l.grade_cm, l.cull_reason;
