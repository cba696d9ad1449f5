-- Does: notes that a device is in use.
-- One row.
-- Parameters: $token_sha256, $at.
UPDATE sign_in
SET seen_at = $at
WHERE token_sha256 = $token_sha256;
