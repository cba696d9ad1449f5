-- Answers: what is the number of the newest entry?
-- One row; 0 where there is none.
-- Parameters: none.
SELECT coalesce(max(number), 0) FROM entry;
