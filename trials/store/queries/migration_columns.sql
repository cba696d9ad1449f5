-- Answers: does the file hold a table of migrations as this program keeps it?
-- One row: how many of its columns are there (4 = all of them).
-- Parameters: none.
SELECT count(*)
FROM duckdb_columns()
WHERE database_name = current_database() AND schema_name = 'main' AND table_name = 'migration'
  AND column_name IN ('number', 'name', 'sha256', 'applied_at');
