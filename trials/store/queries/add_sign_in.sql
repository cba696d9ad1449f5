-- Does: notes that a person is signed in on a device.
-- One row.
-- Parameters: $token_sha256, $name, $at, $ends_at.
INSERT INTO sign_in (token_sha256, name, started_at, seen_at, ends_at)
VALUES ($token_sha256, $name, $at, $at, $ends_at);
