-- Does: ends a trial's season.
-- One row per closed trial.
-- Parameters: $trial, $closed_on, $reason, $recorded_at (UTC), $digest, $entry.
INSERT INTO closing (trial, closed_on, reason, recorded_at, digest, entry)
VALUES ($trial, $closed_on, $reason, $recorded_at, $digest, $entry);
