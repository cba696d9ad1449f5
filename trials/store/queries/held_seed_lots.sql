-- Answers: which lots of seed are held?
-- One row per lot, in the columns of the sheet of seed lots.
-- Parameters: none.
SELECT lot, house, item, packed_for, germination FROM seed_lot ORDER BY ALL;
