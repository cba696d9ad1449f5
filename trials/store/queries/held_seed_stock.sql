-- Answers: which counts of seed in stock are held?
-- One row per lot and day, in the columns of the sheet of seed stock.
-- Parameters: none.
SELECT lot, counted_on, seeds FROM seed_stock ORDER BY ALL;
