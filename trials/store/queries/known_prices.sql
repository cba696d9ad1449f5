-- Answers: which prices has the store held, now or once?
-- One row per item, price list and price break.
-- Parameters: none.
SELECT house, item, price_year, from_packs FROM seed_price
UNION
SELECT house, item, price_year, from_packs FROM seed_price_was
ORDER BY ALL;
