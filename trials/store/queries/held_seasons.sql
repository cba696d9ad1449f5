-- Answers: which seasons are held?
-- One row per season and site, in the columns of the sheet of seasons.
-- Parameters: none.
SELECT season, site, starts_on, ends_on, last_spring_frost, first_autumn_frost
FROM season
ORDER BY ALL;
