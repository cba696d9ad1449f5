-- A price list has a year: next winter's prices are a new list beside the old one, no correction of it.
-- Prices held until here are the list of the newest season, or of the year in which they were recorded
-- where the store has no season.

CREATE TEMP TABLE dated_price AS
SELECT p.*, CAST(NULL AS INTEGER) AS superseded_by FROM seed_price AS p
UNION ALL BY NAME
FROM seed_price_was;

CREATE TEMP TABLE list_price AS
SELECT p.*, coalesce((SELECT max(season) FROM season), year(e.recorded_at), year(now())) AS price_year
FROM dated_price AS p
LEFT JOIN entry AS e ON e.number = p.entry;

DROP TABLE dated_price;
DROP TABLE seed_price;
DROP TABLE seed_price_was;

CREATE TABLE seed_price (
    house      VARCHAR NOT NULL,
    item       VARCHAR NOT NULL,
    price_year INTEGER NOT NULL CHECK (price_year BETWEEN 1950 AND 2199),
    from_packs INTEGER NOT NULL CHECK (from_packs >= 1),
    price      DOUBLE NOT NULL CHECK (price >= 0),
    available  BOOLEAN NOT NULL,
    entry      INTEGER NOT NULL,
    PRIMARY KEY (house, item, price_year, from_packs),
    FOREIGN KEY (house, item) REFERENCES seed_item (house, item)
);
INSERT INTO seed_price BY NAME
SELECT * EXCLUDE superseded_by FROM list_price WHERE superseded_by IS NULL
ORDER BY house, item, from_packs;
COMMENT ON TABLE seed_price IS 'What an item costs by a price list; one row an item, list and price break.';
COMMENT ON COLUMN seed_price.house IS 'The house.';
COMMENT ON COLUMN seed_price.item IS 'The item.';
COMMENT ON COLUMN seed_price.price_year IS 'The year of the price list; orders go by a house''s newest list.';
COMMENT ON COLUMN seed_price.from_packs IS 'The price holds from this number of packets on.';
COMMENT ON COLUMN seed_price.price IS 'Price of one packet, in the house''s currency.';
COMMENT ON COLUMN seed_price.available IS 'Whether it can be ordered.';
COMMENT ON COLUMN seed_price.entry IS 'The entry that brought this row.';

CREATE TABLE seed_price_was AS FROM seed_price LIMIT 0;
ALTER TABLE seed_price_was ADD COLUMN superseded_by INTEGER;
INSERT INTO seed_price_was BY NAME
FROM list_price WHERE superseded_by IS NOT NULL ORDER BY house, item, from_packs, entry;
DROP TABLE list_price;
COMMENT ON TABLE seed_price_was IS 'Prices as they were; one row each time one was superseded.';
COMMENT ON COLUMN seed_price_was.house IS 'As in seed_price.';
COMMENT ON COLUMN seed_price_was.item IS 'As in seed_price.';
COMMENT ON COLUMN seed_price_was.price_year IS 'As in seed_price.';
COMMENT ON COLUMN seed_price_was.from_packs IS 'As in seed_price.';
COMMENT ON COLUMN seed_price_was.price IS 'As in seed_price.';
COMMENT ON COLUMN seed_price_was.available IS 'As in seed_price.';
COMMENT ON COLUMN seed_price_was.entry IS 'As in seed_price.';
COMMENT ON COLUMN seed_price_was.superseded_by IS 'The entry that superseded this row.';
