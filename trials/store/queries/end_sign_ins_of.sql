-- Does: signs a person out on every device, and clears away what ran out.
-- One row per device.
-- Parameters: $name, $at.
DELETE FROM sign_in
WHERE name = $name OR ends_at <= $at;
