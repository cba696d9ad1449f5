-- Answers: which cuts are held of the plots and days in the frame "named", but not named in it?
-- One row per plot, day and grade or reason for culling, in the columns of the sheet of cuts.
-- Parameters: none.
FROM (/* held_of_days */)
EXCEPT
SELECT plot, cut_on, outcome, grade_cm, stems, cull_reason FROM named;
