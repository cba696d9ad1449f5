-- Does: stores new counts of seed in stock.
-- One row per lot and day, from the frame "fresh" (the sheet of seed stock, and the entry).
-- Parameters: none.
INSERT INTO seed_stock BY NAME SELECT lot, counted_on, seeds, entry FROM fresh;
