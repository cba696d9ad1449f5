-- Answers: which currencies does the farm reckon with?
-- One row per currency, in the columns of the sheet of currencies.
-- Parameters: none.
SELECT currency, own, rate FROM currency ORDER BY ALL;
