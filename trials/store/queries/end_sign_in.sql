-- Does: signs a device out.
-- One row.
-- Parameters: $token_sha256.
DELETE FROM sign_in
WHERE token_sha256 = $token_sha256;
