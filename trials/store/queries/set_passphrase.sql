-- Does: keeps a person's passphrase hashed anew.
-- Parameters: $name, $passphrase_hash.
UPDATE person
SET passphrase_hash = $passphrase_hash
WHERE name = $name;
