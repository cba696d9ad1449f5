-- Does: stores the rows of {table} as they once were (the frame "brought").
-- One row per row that was superseded.
-- Parameters: none.
INSERT INTO {table}_was BY NAME
SELECT {columns}, entry, superseded_by FROM brought WHERE superseded_by IS NOT NULL;
