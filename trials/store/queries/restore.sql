-- Does: puts back the rows of {table} that an entry superseded.
-- One row per row.
-- Parameters: $undone, the entry that superseded them; $entry, the one that puts them back.
INSERT INTO {table} BY NAME
SELECT {columns}, $entry AS entry FROM {table}_was WHERE superseded_by = $undone;
