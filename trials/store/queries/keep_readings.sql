-- Does: keeps the readings by which an entry took rows in.
-- One row per kind of sheet, from the frame "fresh" (signature, text, entry).
-- Parameters: none.
INSERT INTO reading BY NAME
SELECT signature, entry, text
FROM fresh;
