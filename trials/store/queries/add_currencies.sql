-- Does: stores new currencies.
-- One row per currency, from the frame "fresh" (the sheet of currencies, and the entry).
-- Parameters: none.
INSERT INTO currency BY NAME SELECT currency, own, rate, entry FROM fresh;
