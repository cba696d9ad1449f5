-- Does: keeps what was unlikely among records that came with their history, and why it is true.
-- One row per record and doubt, from the frame "fresh"; which file and row it stood in is not known.
-- Parameters: none.
INSERT INTO accepted BY NAME
SELECT entry, sheet, sheet || '.csv' AS file, CAST(NULL AS BIGINT) AS row_number, column_name, doubt, reason
FROM fresh;
