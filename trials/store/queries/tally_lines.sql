-- Answers: which stems of a plot were recorded on a day?
-- One row per grade or reason for culling.
-- Parameters: $plot, $day.
SELECT grade_cm, cull_reason, stems
FROM (/* cut_lines */)
WHERE plot = $plot AND cut_on = $day
ORDER BY grade_cm, cull_reason;
