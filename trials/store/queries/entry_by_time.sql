-- Answers: which was the newest entry at a time?
-- One row; NULL where none had been made.
-- Parameters: $time (UTC).
SELECT max(number) FROM entry WHERE recorded_at <= $time;
