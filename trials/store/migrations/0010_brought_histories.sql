-- A trial that came in a package may bring its history along: its entries keep who, when and why, get
-- numbers of this store, and say which numbers they had where they were made.

ALTER TABLE entry ADD COLUMN origin VARCHAR;
ALTER TABLE entry ADD COLUMN origin_number INTEGER;
COMMENT ON COLUMN entry.recorded_at IS 'When it was made (UTC), where it was made; never before that of an earlier entry made there.';
COMMENT ON COLUMN entry.origin IS 'The trial in whose package it came; empty = made in this store.';
COMMENT ON COLUMN entry.origin_number IS 'Its number where it was made; empty = made in this store.';
