-- Does: stores new packets and price breaks.
-- One row per item, then one per price break, from the frame "fresh" (the sheet of seed items).
-- Parameters: none.
-- An item held with another variety or number of seeds differs in the anti join and fails on its key.
INSERT INTO seed_item BY NAME
SELECT DISTINCT house, item, variety, seeds
FROM fresh
ANTI JOIN seed_item USING (house, item, variety, seeds);

INSERT INTO seed_price BY NAME
SELECT house, item, from_packs, price, available = 'yes' AS available FROM fresh;
