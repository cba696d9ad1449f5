-- Does: keeps a person's passphrase hashed anew.
-- One row.
-- Parameters: $name, $passphrase_hash.
UPDATE person
SET passphrase_hash = $passphrase_hash
WHERE name = $name;
