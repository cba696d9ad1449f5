-- Does: signs a person out on every device, and clears away what ran out.
-- Parameters: $name, $at.
DELETE FROM sign_in
WHERE name = $name OR ends_at <= $at;
