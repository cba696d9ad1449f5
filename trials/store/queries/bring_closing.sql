-- Does: stores the ends of a trial's season as they were recorded elsewhere (the frame "brought").
-- One row per closing; those that were taken back are kept beside the one that holds.
-- Parameters: none.
INSERT INTO closing BY NAME
SELECT trial, closed_on, reason, recorded_at, digest, entry FROM brought WHERE superseded_by IS NULL;

INSERT INTO closing_was BY NAME
SELECT trial, closed_on, reason, recorded_at, digest, entry, superseded_by FROM brought
WHERE superseded_by IS NOT NULL;
