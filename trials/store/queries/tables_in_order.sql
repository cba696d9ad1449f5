-- Answers: which tables does the file hold, those that are referred to before those that refer?
-- One row per table.
-- Parameters: none.
SELECT table_name
FROM duckdb_tables()
WHERE database_name = current_database() AND schema_name = 'main' AND NOT temporary
ORDER BY table_oid;
