-- Answers: which rows of {table} have a key of the frame "named"?
-- One row per row of the table: its rowid.
-- Parameters: none.
SELECT a.rowid AS row FROM {table} AS a WHERE EXISTS (FROM named AS b WHERE {same_key});
