-- Does: takes superseded rows (the frame "going" has their rowids) out of {table}.
-- One row per row that is superseded.
-- Parameters: none.
DELETE FROM {table} WHERE rowid IN (SELECT row FROM going);
