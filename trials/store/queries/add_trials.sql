-- Does: stores new trials and the factors they vary.
-- One row per trial, then one per trial and factor, from the frame "fresh" (the sheet of trials).
-- Parameters: none.
INSERT INTO trial BY NAME
SELECT trial, season, site, crop, question, "check" AS check_level, primary_measure, alpha,
       equivalence_margin, minimum_length_cm
FROM fresh;

-- 'pinch on whole plots; variety on plots' is two factors, the name before the last ' on '.
INSERT INTO factor BY NAME
WITH part AS (
    SELECT trial, unnest(string_split(factors, ';')) AS text,
           generate_subscripts(string_split(factors, ';'), 1) AS place
    FROM fresh
)
SELECT trial, place,
       trim(regexp_extract(text, '^(.*) on (.*)s\s*$', 1)) AS factor,
       trim(regexp_extract(text, '^(.*) on (.*)s\s*$', 2)) AS applied_to
FROM part;
