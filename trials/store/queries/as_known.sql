-- Does: lets {table} answer as it stood when an entry had been made, for this cursor alone.
-- One row per row that held then.
-- Parameters: none; {database} and {entry} are filled in, as a view takes none.
CREATE OR REPLACE TEMP VIEW {table} AS
SELECT * FROM {database}.main.{table} WHERE entry <= {entry}
UNION ALL BY NAME
SELECT * EXCLUDE superseded_by FROM {database}.main.{table}_was
WHERE entry <= {entry} AND superseded_by > {entry};
