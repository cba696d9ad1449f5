-- Answers: which entries changed rows of {table} named in the frame "named" after they were seen?
-- One row per entry.
-- Parameters: $seen, the newest entry at that time.
SELECT a.entry FROM {table} AS a SEMI JOIN named USING ({together}) WHERE a.entry > $seen
UNION
SELECT w.superseded_by
FROM {table}_was AS w
SEMI JOIN named USING ({together})
WHERE w.superseded_by > $seen
ORDER BY ALL;
