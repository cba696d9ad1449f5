-- Answers: which entry was a submission?
-- One row, or none where it was not recorded.
-- Parameters: $token, the submission's mark.
SELECT number FROM entry WHERE token = $token;
