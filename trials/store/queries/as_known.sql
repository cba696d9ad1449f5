-- Does: lets {table} answer as it stood when certain entries had been made, for this cursor alone.
-- One row per row that held then.
-- Parameters: none; {database} and {made} (a condition on entries) are filled in, as a view takes none.
CREATE OR REPLACE TEMP VIEW {table} AS
SELECT * FROM {database}.main.{table}
WHERE entry IN (SELECT number FROM {database}.main.entry WHERE {made})
UNION ALL BY NAME
SELECT * EXCLUDE superseded_by FROM {database}.main.{table}_was
WHERE entry IN (SELECT number FROM {database}.main.entry WHERE {made})
  AND superseded_by NOT IN (SELECT number FROM {database}.main.entry WHERE {made});
