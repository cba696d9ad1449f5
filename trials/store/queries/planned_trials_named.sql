-- Answers: which trials that were laid out from a plan would get new plots?
-- One row per such trial that the frame "fresh" names.
-- Parameters: none.
SELECT DISTINCT trial
FROM fresh
SEMI JOIN plan USING (trial)
ORDER BY trial;
