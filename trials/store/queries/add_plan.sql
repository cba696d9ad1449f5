-- Does: keeps what a trial was laid out from.
-- One row per planned trial.
-- Parameters: $trial, $text, $first_number, $digest, $planned_at (UTC).
INSERT INTO plan (trial, text, first_number, digest, planned_at)
VALUES ($trial, $text, $first_number, $digest, $planned_at);
