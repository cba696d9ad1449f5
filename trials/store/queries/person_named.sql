-- Answers: who goes by this name, and may they sign in?
-- One row, or none. Letters' case does not count: a phone writes the first one large.
-- Parameters: $name.
SELECT name, role, email, passphrase_hash, ended_at
FROM person
WHERE lower(name) = lower($name);
