-- Answers: which cuts are held of the plots and days in the frame "named"?
-- One row per plot, day and grade or reason for culling, in the columns of the sheet of cuts.
-- The days come first, so that no stem of any other is looked at.
-- Parameters: none.
WITH cut AS MATERIALIZED (FROM main.cut SEMI JOIN named USING (plot, cut_on))
FROM (/* held_cuts */);
