-- Answers: which rows of {table} are put right in one go with those of the frame "named"?
-- One row per row of the table: its rowid.
-- Parameters: none.
SELECT a.rowid AS row FROM {table} AS a SEMI JOIN named USING ({together});
