-- Answers: which rows of a sheet are of one trial?
-- One row per row of the sheet, in no order; {held} is what is held of it, {of_trial} has the trial
-- or its plots in {column}.
-- Parameters: none.
SELECT * FROM ({held}) AS held SEMI JOIN ({of_trial}) AS of_trial USING ({column});
