-- Answers: which trials take no more records?
-- One row per closed trial.
-- Parameters: none.
SELECT trial FROM closing ORDER BY trial;
