-- Does: keeps what was unlikely among the rows that an entry took in, and why it is true.
-- One row per record and doubt, from the frame "fresh" (the columns of the table).
-- Parameters: none.
INSERT INTO accepted BY NAME
SELECT entry, sheet, file, row_number, column_name, doubt, reason
FROM fresh;
