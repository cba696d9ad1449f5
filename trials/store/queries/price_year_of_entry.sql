-- Answers: of which year is the price list that an entry brought?
-- One row; that of the newest season where the entry brought no price.
-- Parameters: $entry.
SELECT coalesce(
    (SELECT max(price_year) FROM seed_price WHERE entry = $entry),
    (SELECT max(season) FROM season)
) AS price_year;
