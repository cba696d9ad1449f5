-- Answers: by which entries, and with which digests, were trials closed?
-- One row per closing, also of those that were taken back.
-- Parameters: none.
SELECT trial, entry, digest FROM closing WHERE digest IS NOT NULL
UNION
SELECT trial, entry, digest FROM closing_was WHERE digest IS NOT NULL
ORDER BY ALL;
