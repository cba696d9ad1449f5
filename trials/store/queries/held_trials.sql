-- Answers: which trials are held?
-- One row per trial, in the columns of the sheet of trials; the factors written out in their order.
-- Parameters: none.
WITH spelled AS (
    SELECT trial, string_agg(factor || ' on ' || applied_to || 's', '; ' ORDER BY place) AS factors
    FROM factor
    GROUP BY trial
)
SELECT t.trial, t.season, t.site, t.crop, t.question, s.factors, t.check_level AS "check",
       t.primary_measure, t.alpha, t.equivalence_margin, t.minimum_length_cm
FROM trial AS t
JOIN spelled AS s USING (trial)
ORDER BY t.season, t.trial;
