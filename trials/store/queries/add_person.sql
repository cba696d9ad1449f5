-- Does: adds a person, or lets one back in; the address of one who was shut out does not come back.
-- One row.
-- Parameters: $name, $role, $email, $passphrase_hash (NULL = none chosen yet), $at.
INSERT INTO person (name, role, email, passphrase_hash, added_at)
VALUES ($name, $role, $email, $passphrase_hash, $at)
ON CONFLICT (name) DO UPDATE SET
    role = excluded.role,
    email = CASE WHEN person.ended_at IS NULL THEN coalesce(excluded.email, person.email)
                 ELSE excluded.email END,
    passphrase_hash = excluded.passphrase_hash,
    ended_at = NULL;
