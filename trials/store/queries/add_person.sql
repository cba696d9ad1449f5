-- Does: adds a person, or lets one back in.
-- One row.
-- Parameters: $name, $role, $email, $passphrase_hash (NULL = none chosen yet), $at.
INSERT INTO person (name, role, email, passphrase_hash, added_at)
VALUES ($name, $role, $email, $passphrase_hash, $at)
ON CONFLICT (name) DO UPDATE SET
    role = excluded.role,
    email = coalesce(excluded.email, person.email),
    passphrase_hash = excluded.passphrase_hash,
    ended_at = NULL;
