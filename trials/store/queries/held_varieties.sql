-- Answers: which varieties are held?
-- One row per variety, in the columns of the sheet of varieties.
-- Parameters: none.
SELECT variety, crop, colour, habit FROM variety ORDER BY ALL;
