-- Answers: which figures of its crops does the farm give itself?
-- One row per crop and figure, in the columns of the sheet of crops.
-- Parameters: none.
SELECT crop, figure, value, source FROM crop_figure ORDER BY ALL;
