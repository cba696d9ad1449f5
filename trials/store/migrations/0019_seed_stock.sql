-- Seed between orders: how much of each lot is in stock, and what its germination tests found; each
-- with its history.

CREATE TABLE seed_stock (
    lot        VARCHAR NOT NULL REFERENCES seed_lot (lot),
    counted_on DATE NOT NULL CHECK (counted_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    seeds      INTEGER NOT NULL CHECK (seeds >= 0),
    entry      INTEGER NOT NULL,
    PRIMARY KEY (lot, counted_on)
);
COMMENT ON TABLE seed_stock IS 'Seed in stock as it was counted; one row per lot and day. The newest count of a lot holds.';
COMMENT ON COLUMN seed_stock.lot IS 'The seed lot.';
COMMENT ON COLUMN seed_stock.counted_on IS 'The day it was counted.';
COMMENT ON COLUMN seed_stock.seeds IS 'How many seeds there were; 0 = looked and found none.';
COMMENT ON COLUMN seed_stock.entry IS 'The entry that brought this row.';

CREATE TABLE seed_stock_was AS FROM seed_stock LIMIT 0;
ALTER TABLE seed_stock_was ADD COLUMN superseded_by INTEGER;
COMMENT ON TABLE seed_stock_was IS 'Counts of seed in stock as they were; one row each time one was superseded.';
COMMENT ON COLUMN seed_stock_was.lot IS 'As in seed_stock.';
COMMENT ON COLUMN seed_stock_was.counted_on IS 'As in seed_stock.';
COMMENT ON COLUMN seed_stock_was.seeds IS 'As in seed_stock.';
COMMENT ON COLUMN seed_stock_was.entry IS 'As in seed_stock.';
COMMENT ON COLUMN seed_stock_was.superseded_by IS 'The entry that superseded this row.';

CREATE TABLE germination_test (
    lot        VARCHAR NOT NULL REFERENCES seed_lot (lot),
    tested_on  DATE NOT NULL CHECK (tested_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    replicate  INTEGER NOT NULL CHECK (replicate >= 1),
    seeds      INTEGER NOT NULL CHECK (seeds >= 1),
    germinated INTEGER NOT NULL CHECK (germinated >= 0),
    entry      INTEGER NOT NULL,
    PRIMARY KEY (lot, tested_on, replicate),
    CHECK (germinated <= seeds)
);
COMMENT ON TABLE germination_test IS 'Germination tests of seed lots; one row per lot, day and replicate. The newest test of a lot holds.';
COMMENT ON COLUMN germination_test.lot IS 'The seed lot.';
COMMENT ON COLUMN germination_test.tested_on IS 'The day it was counted.';
COMMENT ON COLUMN germination_test.replicate IS 'The number of the replicate, from 1 on.';
COMMENT ON COLUMN germination_test.seeds IS 'Seeds laid out in it.';
COMMENT ON COLUMN germination_test.germinated IS 'How many of them germinated.';
COMMENT ON COLUMN germination_test.entry IS 'The entry that brought this row.';

CREATE TABLE germination_test_was AS FROM germination_test LIMIT 0;
ALTER TABLE germination_test_was ADD COLUMN superseded_by INTEGER;
COMMENT ON TABLE germination_test_was IS 'Germination tests as they were; one row each time one was superseded.';
COMMENT ON COLUMN germination_test_was.lot IS 'As in germination_test.';
COMMENT ON COLUMN germination_test_was.tested_on IS 'As in germination_test.';
COMMENT ON COLUMN germination_test_was.replicate IS 'As in germination_test.';
COMMENT ON COLUMN germination_test_was.seeds IS 'As in germination_test.';
COMMENT ON COLUMN germination_test_was.germinated IS 'As in germination_test.';
COMMENT ON COLUMN germination_test_was.entry IS 'As in germination_test.';
COMMENT ON COLUMN germination_test_was.superseded_by IS 'The entry that superseded this row.';
