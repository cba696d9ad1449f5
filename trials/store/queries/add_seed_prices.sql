-- Does: stores what packets cost.
-- One row per item, price list and price break, from the frame "fresh" (the sheet of seed items, and the entry).
-- Parameters: none.
INSERT INTO seed_price BY NAME
SELECT house, item, price_year, from_packs, price, available = 'yes' AS available, seed_saving,
       entry
FROM fresh;
