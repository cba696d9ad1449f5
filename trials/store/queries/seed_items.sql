-- Answers: which packets can be bought of the crop's varieties, at the prices of the newest lists?
-- One row per house, item and price break.
-- Parameters: $crop (NULL = every crop), $year (lists up to that year; NULL = whichever).
-- Of each house the newest list counts, whole: what is not in it any more cannot be bought.
SELECT i.house, i.item, i.variety, i.seeds, p.price, p.from_packs, p.available, i.grams,
       p.price_year, coalesce(i.sold_as, 'seed') AS sold_as, p.seed_saving
FROM seed_item AS i
JOIN seed_price AS p USING (house, item)
JOIN (
    SELECT house, max(price_year) AS price_year
    FROM seed_price
    WHERE $year IS NULL OR price_year <= $year
    GROUP BY house
) AS newest USING (house, price_year)
JOIN variety AS v USING (variety)
WHERE $crop IS NULL OR v.crop = $crop
ORDER BY i.variety, i.house, i.seeds, i.item, p.from_packs;
