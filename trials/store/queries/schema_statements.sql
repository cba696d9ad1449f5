-- Answers: how would the file's tables be made again, with what they mean?
-- One row per statement, in an order in which they can be carried out.
-- Parameters: none.
WITH statement AS (
    SELECT 1 AS part, table_oid AS place, 0 AS within, sql
    FROM duckdb_tables()
    WHERE database_name = current_database() AND schema_name = 'main' AND NOT temporary
    UNION ALL
    SELECT 2, index_oid, 0, sql
    FROM duckdb_indexes()
    WHERE database_name = current_database() AND schema_name = 'main' AND sql IS NOT NULL
    UNION ALL
    SELECT 3, table_oid, 0,
           'COMMENT ON TABLE "' || table_name || '" IS ''' || replace(comment, '''', '''''') || ''';'
    FROM duckdb_tables()
    WHERE database_name = current_database() AND schema_name = 'main' AND comment IS NOT NULL
    UNION ALL
    SELECT 3, table_oid, column_index,
           'COMMENT ON COLUMN "' || table_name || '"."' || column_name || '" IS '''
           || replace(comment, '''', '''''') || ''';'
    FROM duckdb_columns()
    WHERE database_name = current_database() AND schema_name = 'main' AND comment IS NOT NULL
)
SELECT sql FROM statement ORDER BY part, place, within;
