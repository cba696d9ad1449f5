-- Answers: which scores are held?
-- One row per plot, day and trait, in the columns of the sheet of scores.
-- Parameters: none.
SELECT plot, scored_on, trait, value FROM score ORDER BY ALL;
