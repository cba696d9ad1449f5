-- Answers: which cuts are held of the plots and days in the frame "named"?
-- One row per plot, day and grade or reason for culling, in the columns of the sheet of cuts.
-- Parameters: none.
FROM (/* held_cuts */) SEMI JOIN named USING (plot, cut_on);
