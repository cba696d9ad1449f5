-- Answers: which plots are there?
-- One row per plot with its code.
-- Parameters: none.
SELECT plot FROM plot ORDER BY plot;
