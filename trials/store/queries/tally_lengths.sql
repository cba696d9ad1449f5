-- Answers: which stems of a plot were measured on a day?
-- One row per stem.
-- Parameters: $plot, $day.
SELECT length_cm
FROM stem_sample
WHERE plot = $plot AND cut_on = $day
ORDER BY stem;
