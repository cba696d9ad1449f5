-- Does: stores new prices of stems.
-- One row per year, market, crop, grade and first week, from the frame "fresh" (the sheet of
-- prices, and the entry).
-- Parameters: none.
INSERT INTO market_price BY NAME
SELECT year, market, crop, grade_cm, from_week, to_week, stem_price, entry FROM fresh;
