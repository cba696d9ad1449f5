-- Answers: which stand counts are held?
-- One row per plot and day, in the columns of the sheet of stand counts.
-- Parameters: none.
SELECT plot, counted_on, living FROM stand_count ORDER BY ALL;
