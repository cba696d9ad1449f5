-- What stems sell for and what growing costs, in the farm's own currency; each with its history.

CREATE TABLE currency (
    currency VARCHAR PRIMARY KEY CHECK (currency <> ''),
    own      VARCHAR NOT NULL CHECK (own IN ('yes', 'no')),
    rate     DOUBLE NOT NULL CHECK (rate > 0),
    entry    INTEGER NOT NULL
);
COMMENT ON TABLE currency IS 'The currencies of the farm and its seed houses; one row per currency.';
COMMENT ON COLUMN currency.currency IS 'Its name, as EUR.';
COMMENT ON COLUMN currency.own IS 'Whether the farm keeps its accounts in it.';
COMMENT ON COLUMN currency.rate IS 'What one unit of it is worth in the farm''s own currency.';
COMMENT ON COLUMN currency.entry IS 'The entry that brought this row.';

CREATE TABLE currency_was AS FROM currency LIMIT 0;
ALTER TABLE currency_was ADD COLUMN superseded_by INTEGER;
COMMENT ON TABLE currency_was IS 'Currencies as they were; one row each time one was superseded.';
COMMENT ON COLUMN currency_was.currency IS 'As in currency.';
COMMENT ON COLUMN currency_was.own IS 'As in currency.';
COMMENT ON COLUMN currency_was.rate IS 'As in currency.';
COMMENT ON COLUMN currency_was.entry IS 'As in currency.';
COMMENT ON COLUMN currency_was.superseded_by IS 'The entry that superseded this row.';

CREATE TABLE market_price (
    year       INTEGER NOT NULL CHECK (year BETWEEN 1950 AND 2199),
    market     VARCHAR NOT NULL CHECK (market <> ''),
    crop       VARCHAR NOT NULL CHECK (crop <> ''),
    grade_cm   INTEGER NOT NULL CHECK (grade_cm BETWEEN 0 AND 400),
    from_week  INTEGER NOT NULL CHECK (from_week BETWEEN 1 AND 53),
    to_week    INTEGER NOT NULL CHECK (to_week BETWEEN 1 AND 53),
    stem_price DOUBLE NOT NULL CHECK (stem_price >= 0),
    entry      INTEGER NOT NULL,
    PRIMARY KEY (year, market, crop, grade_cm, from_week),
    CHECK (from_week <= to_week)
);
COMMENT ON TABLE market_price IS 'What a market pays for a stem; one row per year, market, crop, grade and run of weeks.';
COMMENT ON COLUMN market_price.year IS 'The year of the price list; the newest counts.';
COMMENT ON COLUMN market_price.market IS 'Who buys.';
COMMENT ON COLUMN market_price.crop IS 'The crop.';
COMMENT ON COLUMN market_price.grade_cm IS 'The shortest stem it is paid for (cm), up to the next grade of the market.';
COMMENT ON COLUMN market_price.from_week IS 'First week of the year (ISO 8601) in which it holds.';
COMMENT ON COLUMN market_price.to_week IS 'Last week of the year in which it holds.';
COMMENT ON COLUMN market_price.stem_price IS 'Price of one stem, in the farm''s own currency.';
COMMENT ON COLUMN market_price.entry IS 'The entry that brought this row.';

CREATE TABLE market_price_was AS FROM market_price LIMIT 0;
ALTER TABLE market_price_was ADD COLUMN superseded_by INTEGER;
COMMENT ON TABLE market_price_was IS 'Market prices as they were; one row each time one was superseded.';
COMMENT ON COLUMN market_price_was.year IS 'As in market_price.';
COMMENT ON COLUMN market_price_was.market IS 'As in market_price.';
COMMENT ON COLUMN market_price_was.crop IS 'As in market_price.';
COMMENT ON COLUMN market_price_was.grade_cm IS 'As in market_price.';
COMMENT ON COLUMN market_price_was.from_week IS 'As in market_price.';
COMMENT ON COLUMN market_price_was.to_week IS 'As in market_price.';
COMMENT ON COLUMN market_price_was.stem_price IS 'As in market_price.';
COMMENT ON COLUMN market_price_was.entry IS 'As in market_price.';
COMMENT ON COLUMN market_price_was.superseded_by IS 'The entry that superseded this row.';

CREATE TABLE cost (
    year   INTEGER NOT NULL CHECK (year BETWEEN 1950 AND 2199),
    crop   VARCHAR NOT NULL CHECK (crop <> ''),
    cost   VARCHAR NOT NULL
           CHECK (cost IN ('bed', 'plug', 'raising', 'planting', 'pinching', 'netting material',
                           'netting labour', 'picking', 'tallying')),
    amount DOUBLE NOT NULL CHECK (amount >= 0),
    entry  INTEGER NOT NULL,
    PRIMARY KEY (year, crop, cost)
);
COMMENT ON TABLE cost IS 'What growing costs; one row per year, crop and kind of cost.';
COMMENT ON COLUMN cost.year IS 'The year it holds from; the newest counts.';
COMMENT ON COLUMN cost.crop IS 'The crop, or ''every crop'' for those without a cost of their own.';
COMMENT ON COLUMN cost.cost IS 'What it is for, which says per what.';
COMMENT ON COLUMN cost.amount IS 'Its amount, in the farm''s own currency.';
COMMENT ON COLUMN cost.entry IS 'The entry that brought this row.';

CREATE TABLE cost_was AS FROM cost LIMIT 0;
ALTER TABLE cost_was ADD COLUMN superseded_by INTEGER;
COMMENT ON TABLE cost_was IS 'Costs as they were; one row each time one was superseded.';
COMMENT ON COLUMN cost_was.year IS 'As in cost.';
COMMENT ON COLUMN cost_was.crop IS 'As in cost.';
COMMENT ON COLUMN cost_was.cost IS 'As in cost.';
COMMENT ON COLUMN cost_was.amount IS 'As in cost.';
COMMENT ON COLUMN cost_was.entry IS 'As in cost.';
COMMENT ON COLUMN cost_was.superseded_by IS 'The entry that superseded this row.';
