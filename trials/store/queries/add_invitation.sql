-- Does: keeps an invitation.
-- One row.
-- Parameters: $token_sha256, $name, $role, $ends_at.
INSERT INTO invitation (token_sha256, name, role, ends_at)
VALUES ($token_sha256, $name, $role, $ends_at);
