-- Answers: which later entries touched the rows of {table} that an entry brought or superseded?
-- One row per entry.
-- Parameters: $entry.
SELECT superseded_by AS entry FROM {table}_was WHERE entry = $entry
UNION
SELECT a.entry
FROM {table} AS a
JOIN (FROM {table}_was WHERE superseded_by = $entry) AS b ON {same_key}
WHERE a.entry > $entry
ORDER BY entry;
