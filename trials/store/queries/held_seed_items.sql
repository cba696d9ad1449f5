-- Answers: which packets of seed are held, at which prices?
-- One row per house, item, price list and price break, in the columns of the sheet of seed items.
-- Parameters: none.
SELECT i.house, i.item, i.variety, i.seeds, p.price, p.from_packs,
       CASE WHEN p.available THEN 'yes' ELSE 'no' END AS available, i.grams, i.seeds_per_gram,
       p.price_year, i.sold_as, p.seed_saving
FROM seed_item AS i
JOIN seed_price AS p USING (house, item)
ORDER BY i.house, i.item, p.price_year, p.from_packs;
