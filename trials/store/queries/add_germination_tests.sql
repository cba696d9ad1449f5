-- Does: stores new germination tests.
-- One row per lot, day and replicate, from the frame "fresh" (the sheet of germination tests, and
-- the entry).
-- Parameters: none.
INSERT INTO germination_test BY NAME SELECT lot, tested_on, replicate, seeds, germinated, entry FROM fresh;
