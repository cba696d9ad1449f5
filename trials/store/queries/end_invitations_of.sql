-- Does: takes back a person's invitations, and clears away those that ran out.
-- Parameters: $name, $at.
DELETE FROM invitation
WHERE lower(name) = lower($name) OR ends_at <= $at;
