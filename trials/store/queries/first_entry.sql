-- Answers: when does the history begin?
-- One row; NULL where there is no entry.
-- Parameters: none.
SELECT min(recorded_at) FROM entry;
