-- Does: takes back a person's invitations, and clears away those that ran out.
-- One row per invitation.
-- Parameters: $name, $at.
DELETE FROM invitation
WHERE lower(name) = lower($name) OR ends_at <= $at;
