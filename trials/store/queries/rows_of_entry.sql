-- Answers: which rows of {table} did an entry bring, that hold still?
-- One row per row of the table: its rowid.
-- Parameters: $entry.
SELECT rowid AS row FROM {table} WHERE entry = $entry;
