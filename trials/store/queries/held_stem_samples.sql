-- Answers: which measured stems are held?
-- One row per plot, day and stem, in the columns of the sheet of stem samples.
-- Parameters: none.
SELECT plot, cut_on, stem, length_cm FROM stem_sample ORDER BY ALL;
