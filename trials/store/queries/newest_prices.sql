-- Answers: what does each market pay for stems, by its newest list of the crop?
-- One row per market, crop, grade and first week.
-- Parameters: $crop (NULL = every crop).
SELECT year, market, crop, grade_cm, from_week, to_week, stem_price
FROM market_price AS p
SEMI JOIN (
    SELECT market, crop, max(year) AS year FROM market_price GROUP BY market, crop
) AS newest USING (market, crop, year)
WHERE $crop IS NULL OR p.crop = $crop
ORDER BY crop, market, grade_cm, from_week;
