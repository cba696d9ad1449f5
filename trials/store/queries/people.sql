-- Answers: who may sign in?
-- One row per person that was not shut out.
-- Parameters: none.
SELECT name, role, email, passphrase_hash IS NOT NULL AS has_passphrase
FROM person
WHERE ended_at IS NULL
ORDER BY lower(name);
