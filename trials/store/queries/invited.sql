-- Answers: who goes by this name and has a good invitation?
-- One row, or none. Letters' case does not count.
-- Parameters: $name, $at.
SELECT name, role
FROM invitation
WHERE lower(name) = lower($name) AND ends_at > $at;
