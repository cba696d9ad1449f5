-- Does: stores new packets (add_seed_prices: what they cost).
-- One row per item, from the frame "fresh" (the sheet of seed items).
-- Parameters: none.
-- An item held with another variety or number of seeds differs in the anti join and fails on its key.
INSERT INTO seed_item BY NAME
SELECT DISTINCT house, item, variety, seeds
FROM fresh
ANTI JOIN seed_item USING (house, item, variety, seeds);
