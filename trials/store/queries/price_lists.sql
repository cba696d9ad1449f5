-- Answers: of which years are there price lists, and in which currencies?
-- One row per year and currency.
-- Parameters: none.
SELECT DISTINCT p.price_year, h.currency
FROM seed_price AS p
JOIN seed_house AS h USING (house)
ORDER BY ALL;
