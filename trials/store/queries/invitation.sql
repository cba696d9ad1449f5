-- Answers: is this invitation good, and for whom?
-- One row, or none.
-- Parameters: $token_sha256, $at.
SELECT name, role, ends_at
FROM invitation
WHERE token_sha256 = $token_sha256 AND ends_at > $at;
