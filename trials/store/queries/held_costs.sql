-- Answers: what does growing cost?
-- One row per year, crop and kind of cost, in the columns of the sheet of costs.
-- Parameters: none.
SELECT year, crop, cost, amount FROM cost ORDER BY ALL;
