-- Answers: which state of the records is this?
-- One row; NULL where nothing is recorded.
-- Parameters: none.
-- Every change of records is an entry; drafts and those who sign in are no records.
SELECT max(number), max(recorded_at) FROM entry;
