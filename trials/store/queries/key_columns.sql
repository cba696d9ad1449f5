-- Answers: by which columns is a row of each table looked up?
-- One row per key of a table.
-- Parameters: none.
SELECT table_name, constraint_column_names
FROM duckdb_constraints()
WHERE database_name = current_database() AND schema_name = 'main'
  AND constraint_type IN ('PRIMARY KEY', 'UNIQUE')
ORDER BY table_name, constraint_index;
