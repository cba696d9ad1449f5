-- Does: stores new seed houses.
-- One row per house, from the frame "fresh" (the sheet of seed houses).
-- Parameters: none.
INSERT INTO seed_house BY NAME
SELECT house, currency, shipping, free_shipping_from, minimum_order FROM fresh;
