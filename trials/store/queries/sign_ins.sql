-- Answers: who is signed in, and where?
-- One row per device of a person that was not shut out; those that ran out are left out.
-- Parameters: $at.
SELECT s.token_sha256, p.name, p.role, p.email, p.passphrase_hash IS NOT NULL AS has_passphrase,
       s.started_at, s.seen_at, s.ends_at
FROM sign_in AS s
JOIN person AS p USING (name)
WHERE p.ended_at IS NULL AND s.ends_at > $at
ORDER BY s.started_at;
