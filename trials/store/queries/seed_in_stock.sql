-- Answers: how much seed of each lot is in stock?
-- One row per lot that was ever counted: the newest count (0 = none left).
-- Parameters: none.
SELECT lot, arg_max(seeds, counted_on) AS seeds
FROM seed_stock
GROUP BY lot
ORDER BY lot;
