-- Answers: what do the markets pay for a stem?
-- One row per year, market, crop, grade and first week, in the columns of the sheet of prices.
-- Parameters: none.
SELECT year, market, crop, grade_cm, from_week, to_week, stem_price FROM market_price ORDER BY ALL;
