-- Answers: which closed trials would get new records?
-- One row per closed trial that the frame "fresh" names.
-- Parameters: none.
SELECT DISTINCT c.trial, c.closed_on
FROM fresh AS f
JOIN closing AS c USING (trial)
ORDER BY c.trial;
