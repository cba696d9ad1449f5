-- Does: stores new packets (add_seed_prices: what they cost).
-- One row per item, from the frame "fresh" (the sheet of seed items).
-- Parameters: none.
-- An item held as another packet differs in the anti join and fails on its key.
INSERT INTO seed_item BY NAME
SELECT DISTINCT f.house, f.item, f.variety, f.seeds, f.grams, f.seeds_per_gram, f.sold_as
FROM fresh AS f
ANTI JOIN seed_item AS i
    ON i.house = f.house AND i.item = f.item AND i.variety = f.variety AND i.seeds = f.seeds
    AND i.grams IS NOT DISTINCT FROM f.grams
    AND i.seeds_per_gram IS NOT DISTINCT FROM f.seeds_per_gram
    AND i.sold_as IS NOT DISTINCT FROM f.sold_as;
