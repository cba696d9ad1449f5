-- Answers: what does the table hold?
-- One row per row of the table, with all of its columns.
-- Parameters: $table, its name.
SELECT * FROM query_table($table);
