-- Answers: which seed houses are held?
-- One row per house, in the columns of the sheet of seed houses.
-- Parameters: none.
SELECT house, currency, shipping, free_shipping_from, minimum_order FROM seed_house ORDER BY ALL;
