-- Answers: what does one seed of each packet on offer cost in the farm's own currency?
-- One row per house and item of the newest lists; none where its currency has no rate.
-- Parameters: none.
-- Of a variety seed to buy counts; plugs only where no seed is on offer, own seed where neither is.
-- Where no currency was ever named, houses that all sell in one sell in the farm's own.
SELECT i.variety, i.house, i.item, p.price * coalesce(c.rate, 1) AS price,
       p.price * coalesce(c.rate, 1) / i.seeds AS seed_price, coalesce(i.sold_as, 'seed') AS sold_as
FROM seed_item AS i
JOIN seed_price AS p USING (house, item)
JOIN seed_house AS h USING (house)
LEFT JOIN currency AS c USING (currency)
JOIN (SELECT house, max(price_year) AS price_year FROM seed_price GROUP BY house) AS newest
    USING (house, price_year)
WHERE p.available AND p.from_packs = 1
  AND (c.rate IS NOT NULL
       OR (NOT EXISTS (FROM currency) AND (SELECT count(DISTINCT currency) FROM seed_house) = 1))
QUALIFY list_position(['seed', 'plugs', 'own seed'], coalesce(i.sold_as, 'seed'))
    = min(list_position(['seed', 'plugs', 'own seed'], coalesce(i.sold_as, 'seed')))
        OVER (PARTITION BY i.variety);
