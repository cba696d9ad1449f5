-- Answers: which columns name an entry of the history?
-- One row per table and column.
-- Parameters: none.
SELECT table_name, column_name
FROM duckdb_columns()
WHERE database_name = current_database() AND schema_name = 'main'
  AND column_name IN ('entry', 'superseded_by', 'undoes')
ORDER BY table_name, column_index;
