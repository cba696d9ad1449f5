-- Does: shuts a person out.
-- One row.
-- Parameters: $name, $at.
UPDATE person
SET ended_at = $at, passphrase_hash = NULL
WHERE name = $name;
