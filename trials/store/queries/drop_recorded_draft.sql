-- Does: throws the draft away that has just been recorded.
-- One row, or none.
-- Parameters: $token, the submission's mark.
DELETE FROM draft
WHERE token = $token;
