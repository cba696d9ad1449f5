-- Answers: which packets can be bought of the crop's varieties, at which prices?
-- One row per house, item and price break.
-- Parameters: $crop (NULL = every crop).
SELECT i.house, i.item, i.variety, i.seeds, p.price, p.from_packs, p.available, i.grams
FROM seed_item AS i
JOIN seed_price AS p USING (house, item)
JOIN variety AS v USING (variety)
WHERE $crop IS NULL OR v.crop = $crop
ORDER BY i.variety, i.house, i.seeds, i.item, p.from_packs;
