-- Does: keeps a draft in place of what was kept of it before.
-- One row.
-- Parameters: $person, $purpose, $plot, $day, $token, $typed, $typed_at.
INSERT INTO draft (person, purpose, plot, day, token, typed, typed_at)
VALUES ($person, $purpose, $plot, $day, $token, $typed, $typed_at)
ON CONFLICT (person, purpose, plot, day) DO UPDATE SET
    token = excluded.token,
    typed = excluded.typed,
    typed_at = excluded.typed_at;
