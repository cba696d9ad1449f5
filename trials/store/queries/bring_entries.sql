-- Does: makes entries that were made elsewhere (the frame "fresh") entries of this store.
-- One row per entry.
-- Parameters: none.
INSERT INTO entry BY NAME
SELECT number, recorded_at, who, what, why, undoes, origin, origin_number FROM fresh;
