-- Answers: which varieties of the crop are known?
-- One row per variety.
-- Parameters: $crop (NULL = every crop).
SELECT variety, crop, colour, habit
FROM variety
WHERE $crop IS NULL OR crop = $crop
ORDER BY crop, variety;
