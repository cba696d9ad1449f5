-- Columns and a measure get the names of the standard terms: shipping, equivalence margin, minimum
-- length and share of saleable length. Only names change, no record does.
--
-- A table that others refer to can only be renamed in part by making it again, and so are those
-- that refer to it. A trial's digest is of the names that its records had before (trial_digest.py).
-- The text of a plan stays as it was written; its old keys are understood when it is read.

CREATE TEMP TABLE moved_seed_house AS FROM seed_house;
CREATE TEMP TABLE moved_seed_item AS FROM seed_item;
CREATE TEMP TABLE moved_seed_price AS FROM seed_price;
CREATE TEMP TABLE moved_seed_lot AS FROM seed_lot;
CREATE TEMP TABLE moved_seed_stock AS FROM seed_stock;
CREATE TEMP TABLE moved_germination_test AS FROM germination_test;
CREATE TEMP TABLE moved_trial AS FROM trial;
CREATE TEMP TABLE moved_factor AS FROM factor;
CREATE TEMP TABLE moved_level AS FROM level;
CREATE TEMP TABLE moved_block AS FROM block;
CREATE TEMP TABLE moved_whole_plot AS FROM whole_plot;
CREATE TEMP TABLE moved_plot AS FROM plot;
CREATE TEMP TABLE moved_plot_level AS FROM plot_level;
CREATE TEMP TABLE moved_plot_place AS FROM plot_place;
CREATE TEMP TABLE moved_planting AS FROM planting;
CREATE TEMP TABLE moved_stand_count AS FROM stand_count;
CREATE TEMP TABLE moved_event AS FROM event;
CREATE TEMP TABLE moved_cut AS FROM cut;
CREATE TEMP TABLE moved_stem_sample AS FROM stem_sample;
CREATE TEMP TABLE moved_score AS FROM score;
CREATE TEMP TABLE moved_closing AS FROM closing;
CREATE TEMP TABLE moved_plan AS FROM plan;

DROP TABLE plan;
DROP TABLE closing;
DROP TABLE score;
DROP TABLE stem_sample;
DROP TABLE cut;
DROP TABLE event;
DROP TABLE stand_count;
DROP TABLE planting;
DROP TABLE plot_place;
DROP TABLE plot_level;
DROP TABLE plot;
DROP TABLE whole_plot;
DROP TABLE block;
DROP TABLE level;
DROP TABLE factor;
DROP TABLE trial;
DROP TABLE germination_test;
DROP TABLE seed_stock;
DROP TABLE seed_lot;
DROP TABLE seed_price;
DROP TABLE seed_item;
DROP TABLE seed_house;

-- ------------------------------------------------------------------------------ seed

CREATE TABLE seed_house (
    house              VARCHAR PRIMARY KEY CHECK (house <> ''),
    currency           VARCHAR NOT NULL,
    shipping           DOUBLE NOT NULL CHECK (shipping >= 0),
    free_shipping_from DOUBLE CHECK (free_shipping_from >= 0),
    minimum_order      DOUBLE NOT NULL CHECK (minimum_order >= 0)
);
INSERT INTO seed_house BY NAME
SELECT * RENAME (carriage AS shipping, free_carriage_from AS free_shipping_from) FROM moved_seed_house
ORDER BY house;
DROP TABLE moved_seed_house;
COMMENT ON TABLE seed_house IS 'A seller of seed; one row per house.';
COMMENT ON COLUMN seed_house.house IS 'Its name.';
COMMENT ON COLUMN seed_house.currency IS 'The currency of its prices.';
COMMENT ON COLUMN seed_house.shipping IS 'Its charge for shipping one order.';
COMMENT ON COLUMN seed_house.free_shipping_from IS 'The order value from which shipping is free; empty = never.';
COMMENT ON COLUMN seed_house.minimum_order IS 'The smallest order it accepts; 0 = any.';

CREATE TABLE seed_item (
    house          VARCHAR NOT NULL REFERENCES seed_house (house),
    item           VARCHAR NOT NULL CHECK (item <> ''),
    variety        VARCHAR NOT NULL REFERENCES variety (variety),
    seeds          INTEGER NOT NULL CHECK (seeds > 0),
    grams          DOUBLE,
    seeds_per_gram DOUBLE,
    PRIMARY KEY (house, item)
);
INSERT INTO seed_item BY NAME FROM moved_seed_item ORDER BY house, item;
DROP TABLE moved_seed_item;
COMMENT ON TABLE seed_item IS 'A packet that a house sells; one row per item of a house.';
COMMENT ON COLUMN seed_item.house IS 'The house.';
COMMENT ON COLUMN seed_item.item IS 'The house''s number or name for the packet.';
COMMENT ON COLUMN seed_item.variety IS 'The variety in it.';
COMMENT ON COLUMN seed_item.seeds IS 'Seeds in one packet; if it is sold by weight, its grams times its seeds per gram, rounded down.';
COMMENT ON COLUMN seed_item.grams IS 'Weight of the seed in one packet (g); empty = sold by number.';
COMMENT ON COLUMN seed_item.seeds_per_gram IS 'Seeds of this item in a gram; empty = not stated.';

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
INSERT INTO seed_price BY NAME FROM moved_seed_price ORDER BY house, item, price_year, from_packs;
DROP TABLE moved_seed_price;
COMMENT ON TABLE seed_price IS 'The price of an item on a price list; one row per item, list and price break.';
COMMENT ON COLUMN seed_price.house IS 'The house.';
COMMENT ON COLUMN seed_price.item IS 'The item.';
COMMENT ON COLUMN seed_price.price_year IS 'The year of the price list; orders use a house''s newest list.';
COMMENT ON COLUMN seed_price.from_packs IS 'The number of packets from which the price applies.';
COMMENT ON COLUMN seed_price.price IS 'Price of one packet, in the house''s currency.';
COMMENT ON COLUMN seed_price.available IS 'Whether it can be ordered.';
COMMENT ON COLUMN seed_price.entry IS 'The change that added this row.';

CREATE TABLE seed_lot (
    lot         VARCHAR PRIMARY KEY CHECK (lot <> ''),
    house       VARCHAR NOT NULL,
    item        VARCHAR NOT NULL,
    packed_for  INTEGER NOT NULL CHECK (packed_for BETWEEN 1950 AND 2199),
    germination DOUBLE NOT NULL CHECK (germination BETWEEN 0 AND 1),
    FOREIGN KEY (house, item) REFERENCES seed_item (house, item)
);
INSERT INTO seed_lot BY NAME FROM moved_seed_lot ORDER BY lot;
DROP TABLE moved_seed_lot;
COMMENT ON TABLE seed_lot IS 'Seed that was bought; one row per lot.';
COMMENT ON COLUMN seed_lot.lot IS 'The number on the packet.';
COMMENT ON COLUMN seed_lot.house IS 'The house it came from.';
COMMENT ON COLUMN seed_lot.item IS 'The item it was sold as.';
COMMENT ON COLUMN seed_lot.packed_for IS 'The year it was packed for.';
COMMENT ON COLUMN seed_lot.germination IS 'Share of the seeds that germinate (0 to 1).';

CREATE TABLE seed_stock (
    lot        VARCHAR NOT NULL REFERENCES seed_lot (lot),
    counted_on DATE NOT NULL CHECK (counted_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    seeds      INTEGER NOT NULL CHECK (seeds >= 0),
    entry      INTEGER NOT NULL,
    PRIMARY KEY (lot, counted_on)
);
INSERT INTO seed_stock BY NAME FROM moved_seed_stock ORDER BY lot, counted_on;
DROP TABLE moved_seed_stock;
COMMENT ON TABLE seed_stock IS 'Seed in stock as it was counted; one row per lot and day. The newest count of a lot counts.';
COMMENT ON COLUMN seed_stock.lot IS 'The seed lot.';
COMMENT ON COLUMN seed_stock.counted_on IS 'The day it was counted.';
COMMENT ON COLUMN seed_stock.seeds IS 'Number of seeds; 0 = looked and found none.';
COMMENT ON COLUMN seed_stock.entry IS 'The change that added this row.';

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
INSERT INTO germination_test BY NAME FROM moved_germination_test ORDER BY lot, tested_on, replicate;
DROP TABLE moved_germination_test;
COMMENT ON TABLE germination_test IS 'Germination tests of seed lots; one row per lot, day and replicate. The newest test of a lot counts.';
COMMENT ON COLUMN germination_test.lot IS 'The seed lot.';
COMMENT ON COLUMN germination_test.tested_on IS 'The day it was counted.';
COMMENT ON COLUMN germination_test.replicate IS 'The number of the replicate, from 1 on.';
COMMENT ON COLUMN germination_test.seeds IS 'Seeds put to germinate in it.';
COMMENT ON COLUMN germination_test.germinated IS 'How many of them germinated.';
COMMENT ON COLUMN germination_test.entry IS 'The change that added this row.';

-- ------------------------------------------------------------------------------ trials and plots

CREATE TABLE trial (
    trial              VARCHAR PRIMARY KEY CHECK (trial <> ''),
    season             INTEGER NOT NULL,
    site               VARCHAR NOT NULL,
    crop               VARCHAR NOT NULL CHECK (crop <> ''),
    question           VARCHAR NOT NULL,
    check_level        VARCHAR,
    primary_measure    VARCHAR NOT NULL CHECK (primary_measure <> ''),
    alpha              DOUBLE NOT NULL CHECK (alpha > 0 AND alpha < 0.5),
    equivalence_margin VARCHAR CHECK (coalesce(try_cast(trim(rtrim(equivalence_margin, '% ')) AS DOUBLE), 0) > 0
                                      OR equivalence_margin IS NULL),
    minimum_length_cm  DOUBLE NOT NULL CHECK (minimum_length_cm >= 0 AND minimum_length_cm < 500),
    FOREIGN KEY (season, site) REFERENCES season (season, site)
);
INSERT INTO trial BY NAME
SELECT * REPLACE (CASE primary_measure WHEN 'tall_share' THEN 'saleable_length_share'
                  ELSE primary_measure END AS primary_measure)
         RENAME (margin AS equivalence_margin, shortest_length_cm AS minimum_length_cm)
FROM moved_trial
ORDER BY trial;
DROP TABLE moved_trial;
COMMENT ON TABLE trial IS 'A question asked of plots in one season at one site; one row per trial.';
COMMENT ON COLUMN trial.trial IS 'Its code.';
COMMENT ON COLUMN trial.season IS 'The season, by its year.';
COMMENT ON COLUMN trial.site IS 'The site.';
COMMENT ON COLUMN trial.crop IS 'The crop.';
COMMENT ON COLUMN trial.question IS 'What the grower wants to know, in words.';
COMMENT ON COLUMN trial.check_level IS 'The check: the level the others are compared with; empty = none.';
COMMENT ON COLUMN trial.primary_measure IS 'The measure that decides, fixed beforehand.';
COMMENT ON COLUMN trial.alpha IS 'The chance of a false alarm that is accepted, fixed beforehand.';
COMMENT ON COLUMN trial.equivalence_margin IS 'The difference that does not matter: 3 is in the measure''s unit, 10 % is of the mean; empty = none stated.';
COMMENT ON COLUMN trial.minimum_length_cm IS 'Minimum saleable length (cm): graded stems are marketable from this length on.';

CREATE TABLE factor (
    trial      VARCHAR NOT NULL REFERENCES trial (trial),
    factor     VARCHAR NOT NULL CHECK (factor <> ''),
    place      INTEGER NOT NULL CHECK (place >= 1),
    applied_to VARCHAR NOT NULL CHECK (applied_to IN ('plot', 'whole plot', 'split plot', 'strip')),
    PRIMARY KEY (trial, factor)
);
INSERT INTO factor BY NAME FROM moved_factor ORDER BY trial, factor;
DROP TABLE moved_factor;
COMMENT ON TABLE factor IS 'What a trial varies on purpose; one row per trial and factor.';
COMMENT ON COLUMN factor.trial IS 'The trial.';
COMMENT ON COLUMN factor.factor IS 'The factor''s name.';
COMMENT ON COLUMN factor.place IS 'Its place in the order in which the trial names them, from 1 on.';
COMMENT ON COLUMN factor.applied_to IS 'The experimental unit that gets one level as a whole.';

CREATE TABLE level (
    trial  VARCHAR NOT NULL,
    factor VARCHAR NOT NULL,
    level  VARCHAR NOT NULL CHECK (level <> ''),
    PRIMARY KEY (trial, factor, level),
    FOREIGN KEY (trial, factor) REFERENCES factor (trial, factor)
);
INSERT INTO level BY NAME FROM moved_level ORDER BY trial, factor, level;
DROP TABLE moved_level;
COMMENT ON TABLE level IS 'The settings of a factor; one row per trial, factor and level.';
COMMENT ON COLUMN level.trial IS 'The trial.';
COMMENT ON COLUMN level.factor IS 'The factor.';
COMMENT ON COLUMN level.level IS 'The level as it was written, even if it is a number.';

CREATE TABLE block (
    trial VARCHAR NOT NULL REFERENCES trial (trial),
    block VARCHAR NOT NULL CHECK (block <> ''),
    PRIMARY KEY (trial, block)
);
INSERT INTO block BY NAME FROM moved_block ORDER BY trial, block;
DROP TABLE moved_block;
COMMENT ON TABLE block IS 'Plots on ground that is as even as possible; one row per trial and block.';
COMMENT ON COLUMN block.trial IS 'The trial.';
COMMENT ON COLUMN block.block IS 'The block''s label; labels may repeat between trials.';

CREATE TABLE whole_plot (
    trial      VARCHAR NOT NULL REFERENCES trial (trial),
    number     INTEGER NOT NULL CHECK (number >= 1),
    block      VARCHAR,
    whole_plot VARCHAR NOT NULL CHECK (whole_plot <> ''),
    PRIMARY KEY (trial, number),
    FOREIGN KEY (trial, block) REFERENCES block (trial, block)
);
INSERT INTO whole_plot BY NAME FROM moved_whole_plot ORDER BY trial, number;
DROP TABLE moved_whole_plot;
-- The same label in another block is another whole plot.
CREATE UNIQUE INDEX whole_plot_label ON whole_plot (trial, coalesce(block, ''), whole_plot);
COMMENT ON TABLE whole_plot IS 'A group of plots that gets one level of a factor as a whole; one row per whole plot.';
COMMENT ON COLUMN whole_plot.trial IS 'The trial.';
COMMENT ON COLUMN whole_plot.number IS 'The store''s own number for it within the trial.';
COMMENT ON COLUMN whole_plot.block IS 'Its block; empty = the trial has none.';
COMMENT ON COLUMN whole_plot.whole_plot IS 'Its label; labels may repeat between blocks.';

CREATE TABLE plot (
    plot              VARCHAR PRIMARY KEY CHECK (plot <> ''),
    trial             VARCHAR NOT NULL REFERENCES trial (trial),
    block             VARCHAR,
    whole_plot_number INTEGER,
    bed               VARCHAR NOT NULL CHECK (bed <> ''),
    position          INTEGER NOT NULL CHECK (position >= 1),
    UNIQUE (trial, plot),
    FOREIGN KEY (trial, block) REFERENCES block (trial, block),
    FOREIGN KEY (trial, whole_plot_number) REFERENCES whole_plot (trial, number)
);
INSERT INTO plot BY NAME FROM moved_plot ORDER BY plot;
DROP TABLE moved_plot;
COMMENT ON TABLE plot IS 'The smallest stretch of bed with one treatment; one row per plot.';
COMMENT ON COLUMN plot.plot IS 'Its code, unique over the whole farm and all seasons.';
COMMENT ON COLUMN plot.trial IS 'The trial.';
COMMENT ON COLUMN plot.block IS 'Its block; empty = the trial has none.';
COMMENT ON COLUMN plot.whole_plot_number IS 'Its whole plot; empty = the trial has none.';
COMMENT ON COLUMN plot.bed IS 'Its bed.';
COMMENT ON COLUMN plot.position IS 'Its place along the bed.';

CREATE TABLE plot_level (
    plot   VARCHAR NOT NULL,
    trial  VARCHAR NOT NULL,
    factor VARCHAR NOT NULL,
    level  VARCHAR NOT NULL,
    PRIMARY KEY (plot, factor),
    FOREIGN KEY (trial, plot) REFERENCES plot (trial, plot),
    FOREIGN KEY (trial, factor, level) REFERENCES level (trial, factor, level)
);
INSERT INTO plot_level BY NAME FROM moved_plot_level ORDER BY plot, factor;
DROP TABLE moved_plot_level;
COMMENT ON TABLE plot_level IS 'The treatment of each plot; one row per plot and factor.';
COMMENT ON COLUMN plot_level.plot IS 'The plot.';
COMMENT ON COLUMN plot_level.trial IS 'Its trial.';
COMMENT ON COLUMN plot_level.factor IS 'The factor.';
COMMENT ON COLUMN plot_level.level IS 'The plot''s level of it.';

CREATE TABLE plot_place (
    plot             VARCHAR PRIMARY KEY REFERENCES plot (plot),
    row_label        VARCHAR CHECK (row_label <> ''),
    column_label     VARCHAR CHECK (column_label <> ''),
    incomplete_block VARCHAR CHECK (incomplete_block <> ''),
    split_plot       VARCHAR CHECK (split_plot <> '')
);
INSERT INTO plot_place BY NAME FROM moved_plot_place ORDER BY plot;
DROP TABLE moved_plot_place;
COMMENT ON TABLE plot_place IS 'The place of a planned plot within its layout, apart from its block; one row per plot of such a layout.';
COMMENT ON COLUMN plot_place.plot IS 'The plot.';
COMMENT ON COLUMN plot_place.row_label IS 'Its row; empty = the layout has none.';
COMMENT ON COLUMN plot_place.column_label IS 'Its column; empty = the layout has none.';
COMMENT ON COLUMN plot_place.incomplete_block IS 'Its incomplete block; empty = the layout has none.';
COMMENT ON COLUMN plot_place.split_plot IS 'Its split plot; empty = the layout has none.';

CREATE TABLE planting (
    plot            VARCHAR PRIMARY KEY REFERENCES plot (plot),
    lot             VARCHAR REFERENCES seed_lot (lot),
    plants_set      INTEGER NOT NULL CHECK (plants_set > 0),
    net_length_m    DOUBLE NOT NULL CHECK (net_length_m > 0),
    net_area_m2     DOUBLE NOT NULL CHECK (net_area_m2 > 0),
    transplanted_on DATE CHECK (transplanted_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    entry           INTEGER NOT NULL
);
INSERT INTO planting BY NAME FROM moved_planting ORDER BY plot;
DROP TABLE moved_planting;
COMMENT ON TABLE planting IS 'What was planted in a plot, without guard plants; one row per plot.';
COMMENT ON COLUMN planting.plot IS 'The plot.';
COMMENT ON COLUMN planting.lot IS 'The seed lot; empty = not recorded.';
COMMENT ON COLUMN planting.plants_set IS 'Plants set out, or to be set out.';
COMMENT ON COLUMN planting.net_length_m IS 'Length of bed they take, without guards (m).';
COMMENT ON COLUMN planting.net_area_m2 IS 'Area they take, without guards (m²).';
COMMENT ON COLUMN planting.transplanted_on IS 'Day of planting out; empty = not yet, or recorded as an event.';
COMMENT ON COLUMN planting.entry IS 'The change that added this row.';

-- ------------------------------------------------------------------------------ records

CREATE TABLE stand_count (
    plot       VARCHAR NOT NULL REFERENCES plot (plot),
    counted_on DATE NOT NULL CHECK (counted_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    living     INTEGER NOT NULL CHECK (living >= 0),
    entry      INTEGER NOT NULL,
    PRIMARY KEY (plot, counted_on)
);
INSERT INTO stand_count BY NAME FROM moved_stand_count ORDER BY plot, counted_on;
DROP TABLE moved_stand_count;
COMMENT ON TABLE stand_count IS 'Living plants counted; one row per plot and day.';
COMMENT ON COLUMN stand_count.plot IS 'The plot.';
COMMENT ON COLUMN stand_count.counted_on IS 'The day.';
COMMENT ON COLUMN stand_count.living IS 'Plants found alive, never more than were set out.';
COMMENT ON COLUMN stand_count.entry IS 'The change that added this row.';

CREATE TABLE event (
    trial          VARCHAR NOT NULL REFERENCES trial (trial),
    plot           VARCHAR,
    other_plot     VARCHAR,
    happened_on    DATE NOT NULL CHECK (happened_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    kind           VARCHAR NOT NULL CHECK (kind IN ('lost', 'pinched', 'netted', 'sprayed', 'frost', 'note',
                                                    'planted', 'plants swapped', 'labels swapped')),
    reason         VARCHAR,
    entry          INTEGER NOT NULL,
    product        VARCHAR,
    sprayed_at     VARCHAR,
    re_entry_hours DOUBLE,
    FOREIGN KEY (trial, plot) REFERENCES plot (trial, plot),
    FOREIGN KEY (trial, other_plot) REFERENCES plot (trial, plot),
    CHECK (kind <> 'lost' OR reason IS NOT NULL),
    CHECK ((kind IN ('plants swapped', 'labels swapped')) = (other_plot IS NOT NULL)),
    CHECK (other_plot IS NULL OR (plot IS NOT NULL AND plot <> other_plot))
);
INSERT INTO event BY NAME FROM moved_event;
DROP TABLE moved_event;
-- The whole row is its key: two sprays of one day are two events.
CREATE UNIQUE INDEX event_row ON event
    (trial, coalesce(plot, ''), coalesce(other_plot, ''), happened_on, kind, coalesce(reason, ''),
     coalesce(product, ''), coalesce(sprayed_at, ''), coalesce(re_entry_hours, -1));
COMMENT ON TABLE event IS 'What happened apart from harvests; one row per event.';
COMMENT ON COLUMN event.trial IS 'The trial.';
COMMENT ON COLUMN event.plot IS 'The plot; empty = the whole trial.';
COMMENT ON COLUMN event.other_plot IS 'The plot it was swapped with; empty = nothing was swapped.';
COMMENT ON COLUMN event.happened_on IS 'The day.';
COMMENT ON COLUMN event.kind IS 'What it was. A lost plot has no measures; plants swapped: two plots got each other''s treatment; labels swapped: from that day on they are recorded under each other''s code.';
COMMENT ON COLUMN event.reason IS 'Why, or the note itself; never empty if a plot was lost.';
COMMENT ON COLUMN event.entry IS 'The change that added this row.';
COMMENT ON COLUMN event.product IS 'What was sprayed; empty = not recorded, or no spray.';
COMMENT ON COLUMN event.sprayed_at IS 'Time of day when spraying ended, as HH:MM by the farm''s clock; empty = not recorded.';
COMMENT ON COLUMN event.re_entry_hours IS 'Hours on the label during which nobody enters the plot; empty = not recorded.';

CREATE TABLE cut (
    plot            VARCHAR NOT NULL REFERENCES plot (plot),
    cut_on          DATE NOT NULL CHECK (cut_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    outcome         VARCHAR NOT NULL CHECK (outcome IN ('picked', 'missed')),
    stems_by_grade  MAP(INTEGER, INTEGER) NOT NULL,
    culls_by_reason MAP(VARCHAR, INTEGER) NOT NULL,
    none_marketable BOOLEAN NOT NULL,
    entry           INTEGER NOT NULL,
    PRIMARY KEY (plot, cut_on),
    -- A picked day has stems or a 0; a missed day has neither.
    CHECK ((outcome = 'picked')
           = (none_marketable OR cardinality(stems_by_grade) + cardinality(culls_by_reason) > 0)),
    CHECK (list_count(map_values(stems_by_grade)) = cardinality(stems_by_grade)),
    CHECK (list_count(map_values(culls_by_reason)) = cardinality(culls_by_reason)),
    CHECK (list_min(map_keys(stems_by_grade)) >= 0),
    CHECK (list_max(map_keys(stems_by_grade)) < 500),
    CHECK (list_min(map_keys(culls_by_reason)) <> ''),
    CHECK (list_min(map_values(stems_by_grade)) >= 0),
    CHECK (list_min(map_values(culls_by_reason)) >= 0)
);
INSERT INTO cut BY NAME FROM moved_cut ORDER BY plot, cut_on;
DROP TABLE moved_cut;
COMMENT ON TABLE cut IS 'A picking day at a plot; one row per plot and day.';
COMMENT ON COLUMN cut.plot IS 'The plot.';
COMMENT ON COLUMN cut.cut_on IS 'The day.';
COMMENT ON COLUMN cut.outcome IS 'picked (perhaps with nothing to cut) or missed (nobody came: its stems are unknown, not 0).';
COMMENT ON COLUMN cut.stems_by_grade IS 'Stems that were not culled, by length grade: the shortest length of its stems (cm).';
COMMENT ON COLUMN cut.culls_by_reason IS 'Stems that were thrown out, by the reason for culling.';
COMMENT ON COLUMN cut.none_marketable IS 'Whether somebody recorded that there was no stem to grade: a 0 without a grade.';
COMMENT ON COLUMN cut.entry IS 'The change that added this row.';

CREATE TABLE stem_sample (
    plot      VARCHAR NOT NULL REFERENCES plot (plot),
    cut_on    DATE NOT NULL,
    stem      INTEGER NOT NULL CHECK (stem >= 1),
    length_cm DOUBLE NOT NULL CHECK (length_cm > 0 AND length_cm < 500),
    entry     INTEGER NOT NULL,
    PRIMARY KEY (plot, cut_on, stem)
);
INSERT INTO stem_sample BY NAME FROM moved_stem_sample ORDER BY plot, cut_on, stem;
DROP TABLE moved_stem_sample;
COMMENT ON TABLE stem_sample IS 'Stems of a picked day that were measured; one row per plot, day and stem.';
COMMENT ON COLUMN stem_sample.plot IS 'The plot.';
COMMENT ON COLUMN stem_sample.cut_on IS 'The day they were cut.';
COMMENT ON COLUMN stem_sample.stem IS 'The number of the stem within the sample.';
COMMENT ON COLUMN stem_sample.length_cm IS 'Its length (cm).';
COMMENT ON COLUMN stem_sample.entry IS 'The change that added this row.';

CREATE TABLE score (
    plot      VARCHAR NOT NULL REFERENCES plot (plot),
    scored_on DATE NOT NULL CHECK (scored_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    trait     VARCHAR NOT NULL CHECK (trait <> ''),
    value     DOUBLE NOT NULL,
    entry     INTEGER NOT NULL,
    PRIMARY KEY (plot, scored_on, trait)
);
INSERT INTO score BY NAME FROM moved_score ORDER BY plot, scored_on, trait;
DROP TABLE moved_score;
COMMENT ON TABLE score IS 'Anything else that was scored; one row per plot, day and trait.';
COMMENT ON COLUMN score.plot IS 'The plot.';
COMMENT ON COLUMN score.scored_on IS 'The day.';
COMMENT ON COLUMN score.trait IS 'What was scored.';
COMMENT ON COLUMN score.value IS 'The score, in the trait''s own unit.';
COMMENT ON COLUMN score.entry IS 'The change that added this row.';

CREATE TABLE closing (
    trial       VARCHAR PRIMARY KEY REFERENCES trial (trial),
    closed_on   DATE NOT NULL CHECK (closed_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    reason      VARCHAR NOT NULL CHECK (reason <> ''),
    recorded_at TIMESTAMP NOT NULL,
    digest      VARCHAR CHECK (length(digest) = 64),
    entry       INTEGER NOT NULL
);
INSERT INTO closing BY NAME FROM moved_closing ORDER BY trial;
DROP TABLE moved_closing;
COMMENT ON TABLE closing IS 'The end of a trial''s season, after which it takes no new records; one row per closed trial.';
COMMENT ON COLUMN closing.trial IS 'The trial.';
COMMENT ON COLUMN closing.closed_on IS 'The day harvests ended.';
COMMENT ON COLUMN closing.reason IS 'Why it ended.';
COMMENT ON COLUMN closing.recorded_at IS 'When this was recorded (UTC).';
COMMENT ON COLUMN closing.digest IS 'SHA-256 of the trial''s records as they were closed; empty = closed before digests were stored.';
COMMENT ON COLUMN closing.entry IS 'The change that added this row.';

CREATE TABLE plan (
    trial        VARCHAR PRIMARY KEY REFERENCES trial (trial),
    text         VARCHAR NOT NULL CHECK (text <> ''),
    first_number INTEGER NOT NULL CHECK (first_number >= 1),
    digest       VARCHAR NOT NULL CHECK (digest <> ''),
    planned_at   TIMESTAMP NOT NULL
);
INSERT INTO plan BY NAME FROM moved_plan ORDER BY trial;
DROP TABLE moved_plan;
COMMENT ON TABLE plan IS 'The plan a trial was laid out from; one row per planned trial.';
COMMENT ON COLUMN plan.trial IS 'The trial.';
COMMENT ON COLUMN plan.text IS 'The plan as it was written.';
COMMENT ON COLUMN plan.first_number IS 'The number of its first plot within the season.';
COMMENT ON COLUMN plan.digest IS 'The digest of the layout: randomised again it must be the same.';
COMMENT ON COLUMN plan.planned_at IS 'When it was laid out (UTC).';

-- ------------------------------------------------------------------------------ names in other tables

UPDATE accepted SET column_name = 'shipping' WHERE column_name = 'carriage';
UPDATE accepted SET column_name = 'free_shipping_from' WHERE column_name = 'free_carriage_from';
UPDATE accepted SET column_name = 'equivalence_margin' WHERE column_name = 'margin';
UPDATE accepted SET column_name = 'minimum_length_cm' WHERE column_name = 'shortest_length_cm';

COMMENT ON TABLE entry IS 'The changes made to the records; one row per change, in order.';
COMMENT ON COLUMN entry.recorded_at IS 'When it was made (UTC), in the store where it was made; never before an earlier change made there.';
COMMENT ON COLUMN entry.undoes IS 'The change that it took back; empty = none.';
COMMENT ON COLUMN entry.origin_number IS 'Its number in the store where it was made; empty = made in this store.';
COMMENT ON COLUMN source.entry IS 'The change that added its rows; empty = none were new, or it came before history was stored.';
COMMENT ON COLUMN reading.entry IS 'The change that added rows by it.';
COMMENT ON TABLE accepted IS 'Unlikely records that somebody confirmed; one row per record and doubt.';
COMMENT ON COLUMN accepted.entry IS 'The change that added the record.';
COMMENT ON COLUMN crop_figure.entry IS 'The change that added this row.';
COMMENT ON COLUMN currency.entry IS 'The change that added this row.';
COMMENT ON COLUMN market_price.entry IS 'The change that added this row.';
COMMENT ON COLUMN cost.entry IS 'The change that added this row.';
COMMENT ON COLUMN seed_price_was.superseded_by IS 'The change that superseded this row.';
COMMENT ON COLUMN stand_count_was.superseded_by IS 'The change that superseded this row.';
COMMENT ON COLUMN planting_was.superseded_by IS 'The change that superseded this row.';
COMMENT ON COLUMN event_was.superseded_by IS 'The change that superseded this row.';
COMMENT ON COLUMN cut_was.superseded_by IS 'The change that superseded this row.';
COMMENT ON COLUMN stem_sample_was.superseded_by IS 'The change that superseded this row.';
COMMENT ON COLUMN score_was.superseded_by IS 'The change that superseded this row.';
COMMENT ON COLUMN closing_was.superseded_by IS 'The change that took this one back.';
COMMENT ON COLUMN crop_figure_was.superseded_by IS 'The change that superseded this row.';
COMMENT ON COLUMN currency_was.superseded_by IS 'The change that superseded this row.';
COMMENT ON COLUMN market_price_was.superseded_by IS 'The change that superseded this row.';
COMMENT ON COLUMN cost_was.superseded_by IS 'The change that superseded this row.';
COMMENT ON COLUMN seed_stock_was.superseded_by IS 'The change that superseded this row.';
COMMENT ON COLUMN germination_test_was.superseded_by IS 'The change that superseded this row.';
