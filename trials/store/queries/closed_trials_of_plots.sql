-- Answers: which closed trials would get new records?
-- One row per closed trial with a plot in the frame "fresh".
-- Parameters: none.
SELECT DISTINCT c.trial, c.closed_on
FROM fresh AS f
JOIN plot AS p USING (plot)
JOIN closing AS c ON c.trial = p.trial
ORDER BY c.trial;
