-- Does: gives the rows of {table} that one entry brought to the entries that brought them first (the
-- frame "brought").
-- One row per row that holds.
-- Parameters: $drawn, the entry that brought them all.
UPDATE {table} AS a SET entry = b.entry
FROM brought AS b
WHERE a.entry = $drawn AND b.superseded_by IS NULL AND {same_row};
