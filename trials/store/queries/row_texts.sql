-- Answers: what does the table hold, in a form that any program can make again?
-- One row per row of the table: the row as a JSON object, in the order of its bytes.
-- Parameters: $table, its name.
SELECT CAST(to_json(held) AS VARCHAR) AS line
FROM query_table($table) AS held
ORDER BY line;
