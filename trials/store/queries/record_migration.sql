-- Does: notes that a migration was applied.
-- One row per migration.
-- Parameters: $number, $name, $sha256, $applied_at (UTC).
INSERT INTO migration (number, name, sha256, applied_at)
VALUES ($number, $name, $sha256, $applied_at);
