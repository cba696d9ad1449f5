-- Does: keeps rows of {table} as they were (the frame "going" has their rowids).
-- One row per row that is superseded.
-- Parameters: $entry, which supersedes them.
INSERT INTO {table}_was BY NAME
SELECT a.*, $entry AS superseded_by FROM {table} AS a WHERE a.rowid IN (SELECT row FROM going);
