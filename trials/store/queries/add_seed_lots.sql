-- Does: stores new lots of seed.
-- One row per lot, from the frame "fresh" (the sheet of seed lots).
-- Parameters: none.
INSERT INTO seed_lot BY NAME SELECT lot, house, item, packed_for, germination FROM fresh;
