-- Answers: how many rows of {table} did an entry bring that hold?
-- One row.
-- Parameters: $entry.
SELECT count(*) FROM {table} WHERE entry = $entry;
