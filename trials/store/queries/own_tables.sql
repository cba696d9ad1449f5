-- Answers: which tables does the file hold?
-- One row per table, in alphabetical order.
-- Parameters: none.
SELECT table_name
FROM duckdb_tables()
WHERE database_name = current_database() AND schema_name = 'main' AND NOT temporary
ORDER BY table_name;
