-- The farm and its seed: places, seasons, varieties, seed houses with what they sell, lots in hand;
-- and the store's own book-keeping (which migrations were applied, which files were read).
--
-- A row that others refer to is written once and never changed: a correction is a new row.

CREATE TABLE migration (
    number     INTEGER PRIMARY KEY CHECK (number > 0),
    name       VARCHAR NOT NULL,
    sha256     VARCHAR NOT NULL CHECK (length(sha256) = 64),
    applied_at TIMESTAMP NOT NULL
);
COMMENT ON TABLE migration IS 'The steps that made this store what it is; one row a step, in order.';
COMMENT ON COLUMN migration.number IS 'Its place in the order, from 1 on.';
COMMENT ON COLUMN migration.name IS 'The name of its file, without number and ending.';
COMMENT ON COLUMN migration.sha256 IS 'SHA-256 of its text with plain line ends: an edited step is noticed.';
COMMENT ON COLUMN migration.applied_at IS 'When it was applied (UTC).';

CREATE TABLE source (
    sha256    VARCHAR NOT NULL CHECK (length(sha256) = 64),
    sheet     VARCHAR NOT NULL,
    file      VARCHAR NOT NULL,
    rows      INTEGER NOT NULL CHECK (rows >= 0),
    loaded_at TIMESTAMP NOT NULL,
    PRIMARY KEY (sha256, sheet)
);
COMMENT ON TABLE source IS 'The files whose records were loaded; one row a file and kind of record, the first time it came.';
COMMENT ON COLUMN source.sha256 IS 'SHA-256 of the file''s bytes.';
COMMENT ON COLUMN source.sheet IS 'The kind of record it held.';
COMMENT ON COLUMN source.file IS 'The file''s name.';
COMMENT ON COLUMN source.rows IS 'How many rows of records it held, new or not.';
COMMENT ON COLUMN source.loaded_at IS 'When it was loaded (UTC).';

CREATE TABLE site (
    site        VARCHAR PRIMARY KEY CHECK (site <> ''),
    place       VARCHAR NOT NULL,
    bed_width_m DOUBLE NOT NULL CHECK (bed_width_m > 0 AND bed_width_m < 100),
    note        VARCHAR
);
COMMENT ON TABLE site IS 'A field or tunnel with beds; one row a site.';
COMMENT ON COLUMN site.site IS 'Its short name.';
COMMENT ON COLUMN site.place IS 'Where it lies.';
COMMENT ON COLUMN site.bed_width_m IS 'Width of its beds (m).';
COMMENT ON COLUMN site.note IS 'Anything else worth knowing; may be empty.';

CREATE TABLE season (
    season             INTEGER NOT NULL CHECK (season BETWEEN 1950 AND 2199),
    site               VARCHAR NOT NULL REFERENCES site (site),
    starts_on          DATE NOT NULL CHECK (starts_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    ends_on            DATE NOT NULL CHECK (ends_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    last_spring_frost  DATE CHECK (last_spring_frost BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    first_autumn_frost DATE CHECK (first_autumn_frost BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    PRIMARY KEY (season, site),
    CHECK (starts_on <= ends_on),
    CHECK (last_spring_frost < first_autumn_frost)
);
COMMENT ON TABLE season IS 'One growing season at one site; one row a year and site.';
COMMENT ON COLUMN season.season IS 'The year that names it.';
COMMENT ON COLUMN season.site IS 'The site.';
COMMENT ON COLUMN season.starts_on IS 'First day.';
COMMENT ON COLUMN season.ends_on IS 'Last day.';
COMMENT ON COLUMN season.last_spring_frost IS 'Day of the last frost before summer; empty = not recorded.';
COMMENT ON COLUMN season.first_autumn_frost IS 'Day of the first frost after summer; empty = not recorded.';

CREATE TABLE variety (
    variety VARCHAR PRIMARY KEY CHECK (variety <> ''),
    crop    VARCHAR NOT NULL CHECK (crop <> ''),
    colour  VARCHAR,
    habit   VARCHAR
);
COMMENT ON TABLE variety IS 'What is grown; one row a variety.';
COMMENT ON COLUMN variety.variety IS 'Its name.';
COMMENT ON COLUMN variety.crop IS 'The crop it belongs to.';
COMMENT ON COLUMN variety.colour IS 'Colour of the flower; may be empty.';
COMMENT ON COLUMN variety.habit IS 'How it grows, in the grower''s words (tall cutting, bedding); may be empty.';

CREATE TABLE seed_house (
    house              VARCHAR PRIMARY KEY CHECK (house <> ''),
    currency           VARCHAR NOT NULL,
    carriage           DOUBLE NOT NULL CHECK (carriage >= 0),
    free_carriage_from DOUBLE CHECK (free_carriage_from >= 0),
    minimum_order      DOUBLE NOT NULL CHECK (minimum_order >= 0)
);
COMMENT ON TABLE seed_house IS 'A seller of seed; one row a house.';
COMMENT ON COLUMN seed_house.house IS 'Its name.';
COMMENT ON COLUMN seed_house.currency IS 'The currency of its prices.';
COMMENT ON COLUMN seed_house.carriage IS 'What it charges to send one parcel.';
COMMENT ON COLUMN seed_house.free_carriage_from IS 'The order value from which it charges none; empty = never.';
COMMENT ON COLUMN seed_house.minimum_order IS 'The smallest order it takes; 0 = any.';

CREATE TABLE seed_item (
    house   VARCHAR NOT NULL REFERENCES seed_house (house),
    item    VARCHAR NOT NULL CHECK (item <> ''),
    variety VARCHAR NOT NULL REFERENCES variety (variety),
    seeds   INTEGER NOT NULL CHECK (seeds > 0),
    PRIMARY KEY (house, item)
);
COMMENT ON TABLE seed_item IS 'A packet that a house sells; one row an item of a house.';
COMMENT ON COLUMN seed_item.house IS 'The house.';
COMMENT ON COLUMN seed_item.item IS 'The house''s number or name for the packet.';
COMMENT ON COLUMN seed_item.variety IS 'The variety in it.';
COMMENT ON COLUMN seed_item.seeds IS 'Seeds in one packet.';

CREATE TABLE seed_price (
    house      VARCHAR NOT NULL,
    item       VARCHAR NOT NULL,
    from_packs INTEGER NOT NULL CHECK (from_packs >= 1),
    price      DOUBLE NOT NULL CHECK (price >= 0),
    available  BOOLEAN NOT NULL,
    PRIMARY KEY (house, item, from_packs),
    FOREIGN KEY (house, item) REFERENCES seed_item (house, item)
);
COMMENT ON TABLE seed_price IS 'What an item costs; one row an item and price break.';
COMMENT ON COLUMN seed_price.house IS 'The house.';
COMMENT ON COLUMN seed_price.item IS 'The item.';
COMMENT ON COLUMN seed_price.from_packs IS 'The price holds from this number of packets on.';
COMMENT ON COLUMN seed_price.price IS 'Price of one packet, in the house''s currency.';
COMMENT ON COLUMN seed_price.available IS 'Whether it can be ordered.';

CREATE TABLE seed_lot (
    lot         VARCHAR PRIMARY KEY CHECK (lot <> ''),
    house       VARCHAR NOT NULL,
    item        VARCHAR NOT NULL,
    packed_for  INTEGER NOT NULL CHECK (packed_for BETWEEN 1950 AND 2199),
    germination DOUBLE NOT NULL CHECK (germination BETWEEN 0 AND 1),
    FOREIGN KEY (house, item) REFERENCES seed_item (house, item)
);
COMMENT ON TABLE seed_lot IS 'Seed that was bought; one row a lot.';
COMMENT ON COLUMN seed_lot.lot IS 'The number on the packet.';
COMMENT ON COLUMN seed_lot.house IS 'The house it came from.';
COMMENT ON COLUMN seed_lot.item IS 'The item it was sold as.';
COMMENT ON COLUMN seed_lot.packed_for IS 'The year it was packed for.';
COMMENT ON COLUMN seed_lot.germination IS 'Share of the seeds that germinate (0 to 1).';
