-- Does: stores new seasons.
-- One row per season and site, from the frame "fresh" (the sheet of seasons).
-- Parameters: none.
INSERT INTO season BY NAME
SELECT season, site, starts_on, ends_on, last_spring_frost, first_autumn_frost FROM fresh;
