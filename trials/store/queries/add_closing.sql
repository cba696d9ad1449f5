-- Does: ends a trial's season.
-- One row per closed trial.
-- Parameters: $trial, $closed_on, $reason, $recorded_at (UTC).
INSERT INTO closing (trial, closed_on, reason, recorded_at)
VALUES ($trial, $closed_on, $reason, $recorded_at);
