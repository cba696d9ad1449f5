-- Answers: what do the tables and their columns mean?
-- One row per table (column = '') and per column that says so.
-- Parameters: none.
SELECT table_name, '' AS column_name, comment
FROM duckdb_tables()
WHERE database_name = current_database() AND schema_name = 'main' AND comment IS NOT NULL
UNION ALL
SELECT table_name, column_name, comment
FROM duckdb_columns()
WHERE database_name = current_database() AND schema_name = 'main' AND comment IS NOT NULL
ORDER BY ALL;
