-- Does: stores new varieties.
-- One row per variety, from the frame "fresh" (the sheet of varieties).
-- Parameters: none.
INSERT INTO variety BY NAME SELECT variety, crop, colour, habit FROM fresh;
