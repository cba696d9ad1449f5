-- Nothing is overwritten: every change is an entry that says who, when and why.
--
-- What was seen and what may be put right (stands, events, cuts, samples, scores, plantings, prices,
-- closings) holds what holds now; each row names the entry that brought it. Its twin, the table of
-- the same name with _was, holds the rows that were superseded, and names the entry that did it.
-- What was known when entry E had been made is therefore: the rows here with entry <= E, and the
-- rows of the twin with entry <= E < superseded_by.
--
-- A row that others refer to cannot be replaced, so these tables refer to plots, trials, lots and
-- packets, which are written once, and never to one another. What such a reference guarded
-- (lines and samples belong to a picked day; no more plants live than were set; every row's
-- entry is held) is checked within each transaction and by the check of the whole store.

CREATE TABLE entry (
    number      INTEGER PRIMARY KEY CHECK (number >= 1),
    recorded_at TIMESTAMP NOT NULL,
    who         VARCHAR CHECK (who <> ''),
    what        VARCHAR NOT NULL CHECK (what <> ''),
    why         VARCHAR CHECK (why <> ''),
    undoes      INTEGER CHECK (undoes >= 1),
    token       VARCHAR UNIQUE CHECK (token <> ''),
    CHECK (undoes < number)
);
COMMENT ON TABLE entry IS 'The changes that were made to the records; one row a change, in order.';
COMMENT ON COLUMN entry.number IS 'Its place in the order, from 1 on.';
COMMENT ON COLUMN entry.recorded_at IS 'When it was made (UTC); never before that of the entry before it.';
COMMENT ON COLUMN entry.who IS 'Who made it; empty = not recorded.';
COMMENT ON COLUMN entry.what IS 'What it was: load, tally, correction, withdrawal, undo, plan, closing, before history.';
COMMENT ON COLUMN entry.why IS 'Why, in their words; empty = not said.';
COMMENT ON COLUMN entry.undoes IS 'The entry that it took back; empty = none.';
COMMENT ON COLUMN entry.token IS 'The mark of a submission, so that one sent twice is recorded once; empty = none.';

-- Rows from before this step share one entry: when each of them came is not known.
INSERT INTO entry (number, recorded_at, who, what, why)
SELECT 1, now() AT TIME ZONE 'UTC', NULL, 'before history', 'held before history was kept'
WHERE EXISTS (FROM planting) OR EXISTS (FROM event) OR EXISTS (FROM seed_price) OR EXISTS (FROM closing);

ALTER TABLE source ADD COLUMN entry INTEGER;
COMMENT ON COLUMN source.entry IS 'The entry that took its rows in; empty = none were new, or it came before history was kept.';

-- ------------------------------------------------------------------------------ prices

CREATE TEMP TABLE moved_seed_price AS FROM seed_price;
DROP TABLE seed_price;
CREATE TABLE seed_price (
    house      VARCHAR NOT NULL,
    item       VARCHAR NOT NULL,
    from_packs INTEGER NOT NULL CHECK (from_packs >= 1),
    price      DOUBLE NOT NULL CHECK (price >= 0),
    available  BOOLEAN NOT NULL,
    entry      INTEGER NOT NULL,
    PRIMARY KEY (house, item, from_packs),
    FOREIGN KEY (house, item) REFERENCES seed_item (house, item)
);
INSERT INTO seed_price BY NAME SELECT *, 1 AS entry FROM moved_seed_price;
DROP TABLE moved_seed_price;
COMMENT ON TABLE seed_price IS 'What an item costs; one row an item and price break.';
COMMENT ON COLUMN seed_price.house IS 'The house.';
COMMENT ON COLUMN seed_price.item IS 'The item.';
COMMENT ON COLUMN seed_price.from_packs IS 'The price holds from this number of packets on.';
COMMENT ON COLUMN seed_price.price IS 'Price of one packet, in the house''s currency.';
COMMENT ON COLUMN seed_price.available IS 'Whether it can be ordered.';
COMMENT ON COLUMN seed_price.entry IS 'The entry that brought this row.';

CREATE TABLE seed_price_was AS FROM seed_price LIMIT 0;
ALTER TABLE seed_price_was ADD COLUMN superseded_by INTEGER;
COMMENT ON TABLE seed_price_was IS 'Prices as they were; one row each time one was superseded.';
COMMENT ON COLUMN seed_price_was.house IS 'As in seed_price.';
COMMENT ON COLUMN seed_price_was.item IS 'As in seed_price.';
COMMENT ON COLUMN seed_price_was.from_packs IS 'As in seed_price.';
COMMENT ON COLUMN seed_price_was.price IS 'As in seed_price.';
COMMENT ON COLUMN seed_price_was.available IS 'As in seed_price.';
COMMENT ON COLUMN seed_price_was.entry IS 'As in seed_price.';
COMMENT ON COLUMN seed_price_was.superseded_by IS 'The entry that superseded this row.';

-- ------------------------------------------------------------------------------ stands

CREATE TEMP TABLE moved_stand_count AS SELECT plot, counted_on, living FROM stand_count;
DROP TABLE stand_count;
CREATE TABLE stand_count (
    plot       VARCHAR NOT NULL REFERENCES plot (plot),
    counted_on DATE NOT NULL CHECK (counted_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    living     INTEGER NOT NULL CHECK (living >= 0),
    entry      INTEGER NOT NULL,
    PRIMARY KEY (plot, counted_on)
);
INSERT INTO stand_count BY NAME SELECT *, 1 AS entry FROM moved_stand_count;
DROP TABLE moved_stand_count;
COMMENT ON TABLE stand_count IS 'Living plants counted; one row a plot and day.';
COMMENT ON COLUMN stand_count.plot IS 'The plot.';
COMMENT ON COLUMN stand_count.counted_on IS 'The day.';
COMMENT ON COLUMN stand_count.living IS 'Plants found alive, never more than were set out.';
COMMENT ON COLUMN stand_count.entry IS 'The entry that brought this row.';

CREATE TABLE stand_count_was AS FROM stand_count LIMIT 0;
ALTER TABLE stand_count_was ADD COLUMN superseded_by INTEGER;
COMMENT ON TABLE stand_count_was IS 'Stand counts as they were; one row each time one was superseded.';
COMMENT ON COLUMN stand_count_was.plot IS 'As in stand_count.';
COMMENT ON COLUMN stand_count_was.counted_on IS 'As in stand_count.';
COMMENT ON COLUMN stand_count_was.living IS 'As in stand_count.';
COMMENT ON COLUMN stand_count_was.entry IS 'As in stand_count.';
COMMENT ON COLUMN stand_count_was.superseded_by IS 'The entry that superseded this row.';

-- ------------------------------------------------------------------------------ plantings

CREATE TEMP TABLE moved_planting AS FROM planting;
DROP TABLE planting;
CREATE TABLE planting (
    plot            VARCHAR PRIMARY KEY REFERENCES plot (plot),
    lot             VARCHAR REFERENCES seed_lot (lot),
    plants_set      INTEGER NOT NULL CHECK (plants_set > 0),
    net_length_m    DOUBLE NOT NULL CHECK (net_length_m > 0),
    net_area_m2     DOUBLE NOT NULL CHECK (net_area_m2 > 0),
    transplanted_on DATE NOT NULL CHECK (transplanted_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    entry           INTEGER NOT NULL
);
INSERT INTO planting BY NAME SELECT *, 1 AS entry FROM moved_planting;
DROP TABLE moved_planting;
COMMENT ON TABLE planting IS 'What was planted in a plot, guard plants left out; one row a plot.';
COMMENT ON COLUMN planting.plot IS 'The plot.';
COMMENT ON COLUMN planting.lot IS 'The seed lot; empty = not recorded.';
COMMENT ON COLUMN planting.plants_set IS 'Plants set out.';
COMMENT ON COLUMN planting.net_length_m IS 'Length of bed they take, without guards (m).';
COMMENT ON COLUMN planting.net_area_m2 IS 'Area they take, without guards (m²).';
COMMENT ON COLUMN planting.transplanted_on IS 'Day of planting out.';
COMMENT ON COLUMN planting.entry IS 'The entry that brought this row.';

CREATE TABLE planting_was AS FROM planting LIMIT 0;
ALTER TABLE planting_was ADD COLUMN superseded_by INTEGER;
COMMENT ON TABLE planting_was IS 'Plantings as they were recorded; one row each time one was superseded.';
COMMENT ON COLUMN planting_was.plot IS 'As in planting.';
COMMENT ON COLUMN planting_was.lot IS 'As in planting.';
COMMENT ON COLUMN planting_was.plants_set IS 'As in planting.';
COMMENT ON COLUMN planting_was.net_length_m IS 'As in planting.';
COMMENT ON COLUMN planting_was.net_area_m2 IS 'As in planting.';
COMMENT ON COLUMN planting_was.transplanted_on IS 'As in planting.';
COMMENT ON COLUMN planting_was.entry IS 'As in planting.';
COMMENT ON COLUMN planting_was.superseded_by IS 'The entry that superseded this row.';

-- ------------------------------------------------------------------------------ events

CREATE TEMP TABLE moved_event AS FROM event;
DROP TABLE event;
CREATE TABLE event (
    trial       VARCHAR NOT NULL REFERENCES trial (trial),
    plot        VARCHAR,
    other_plot  VARCHAR,
    happened_on DATE NOT NULL CHECK (happened_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    kind        VARCHAR NOT NULL CHECK (kind IN ('lost', 'pinched', 'netted', 'sprayed', 'frost', 'note',
                                                 'planted', 'plants swapped', 'labels swapped')),
    reason      VARCHAR,
    entry       INTEGER NOT NULL,
    FOREIGN KEY (trial, plot) REFERENCES plot (trial, plot),
    FOREIGN KEY (trial, other_plot) REFERENCES plot (trial, plot),
    CHECK (kind <> 'lost' OR reason IS NOT NULL),
    CHECK ((kind IN ('plants swapped', 'labels swapped')) = (other_plot IS NOT NULL)),
    CHECK (other_plot IS NULL OR (plot IS NOT NULL AND plot <> other_plot))
);
INSERT INTO event BY NAME SELECT *, 1 AS entry FROM moved_event;
DROP TABLE moved_event;
-- The whole row is its key: two notes of one day are two events.
CREATE UNIQUE INDEX event_row ON event
    (trial, coalesce(plot, ''), coalesce(other_plot, ''), happened_on, kind, coalesce(reason, ''));
COMMENT ON TABLE event IS 'What happened beside the picking; one row an event.';
COMMENT ON COLUMN event.trial IS 'The trial.';
COMMENT ON COLUMN event.plot IS 'The plot; empty = the whole trial.';
COMMENT ON COLUMN event.other_plot IS 'The plot it was swapped with; empty where nothing was swapped.';
COMMENT ON COLUMN event.happened_on IS 'The day.';
COMMENT ON COLUMN event.kind IS 'What it was; a lost plot has no measures.';
COMMENT ON COLUMN event.reason IS 'Why, or the note itself; never empty where a plot was lost.';
COMMENT ON COLUMN event.entry IS 'The entry that brought this row.';

CREATE TABLE event_was AS FROM event LIMIT 0;
ALTER TABLE event_was ADD COLUMN superseded_by INTEGER;
COMMENT ON TABLE event_was IS 'Events as they were recorded; one row each time one was superseded.';
COMMENT ON COLUMN event_was.trial IS 'As in event.';
COMMENT ON COLUMN event_was.plot IS 'As in event.';
COMMENT ON COLUMN event_was.other_plot IS 'As in event.';
COMMENT ON COLUMN event_was.happened_on IS 'As in event.';
COMMENT ON COLUMN event_was.kind IS 'As in event.';
COMMENT ON COLUMN event_was.reason IS 'As in event.';
COMMENT ON COLUMN event_was.entry IS 'As in event.';
COMMENT ON COLUMN event_was.superseded_by IS 'The entry that superseded this row.';

-- ------------------------------------------------------------------------------ cuts

CREATE TEMP TABLE moved_cut AS FROM cut;
CREATE TEMP TABLE moved_cut_line AS
SELECT plot, cut_on, grade_cm, cull_reason, stems FROM cut_line;
CREATE TEMP TABLE moved_stem_sample AS FROM stem_sample;
DROP TABLE stem_sample;
DROP TABLE cut_line;
DROP TABLE cut;

CREATE TABLE cut (
    plot    VARCHAR NOT NULL REFERENCES plot (plot),
    cut_on  DATE NOT NULL CHECK (cut_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    outcome VARCHAR NOT NULL CHECK (outcome IN ('picked', 'missed')),
    entry   INTEGER NOT NULL,
    PRIMARY KEY (plot, cut_on)
);
INSERT INTO cut BY NAME SELECT *, 1 AS entry FROM moved_cut;
DROP TABLE moved_cut;
COMMENT ON TABLE cut IS 'A picking day at a plot; one row a plot and day.';
COMMENT ON COLUMN cut.plot IS 'The plot.';
COMMENT ON COLUMN cut.cut_on IS 'The day.';
COMMENT ON COLUMN cut.outcome IS 'picked (perhaps with nothing to cut) or missed (nobody came by: its stems are unknown, not 0).';
COMMENT ON COLUMN cut.entry IS 'The entry that brought this row.';

CREATE TABLE cut_was AS FROM cut LIMIT 0;
ALTER TABLE cut_was ADD COLUMN superseded_by INTEGER;
COMMENT ON TABLE cut_was IS 'Picking days as they were recorded; one row each time one was superseded.';
COMMENT ON COLUMN cut_was.plot IS 'As in cut.';
COMMENT ON COLUMN cut_was.cut_on IS 'As in cut.';
COMMENT ON COLUMN cut_was.outcome IS 'As in cut.';
COMMENT ON COLUMN cut_was.entry IS 'As in cut.';
COMMENT ON COLUMN cut_was.superseded_by IS 'The entry that superseded this row.';

CREATE TABLE cut_line (
    plot        VARCHAR NOT NULL REFERENCES plot (plot),
    cut_on      DATE NOT NULL,
    grade_cm    INTEGER CHECK (grade_cm >= 0 AND grade_cm < 500),
    cull_reason VARCHAR CHECK (cull_reason <> ''),
    stems       INTEGER NOT NULL CHECK (stems >= 0),
    entry       INTEGER NOT NULL,
    CHECK ((grade_cm IS NULL) <> (cull_reason IS NULL)
           OR (grade_cm IS NULL AND cull_reason IS NULL AND stems = 0))
);
INSERT INTO cut_line BY NAME SELECT *, 1 AS entry FROM moved_cut_line;
DROP TABLE moved_cut_line;
CREATE UNIQUE INDEX cut_line_key ON cut_line (plot, cut_on, coalesce(grade_cm, -1), coalesce(cull_reason, ''));
COMMENT ON TABLE cut_line IS 'Stems of a picked day (a missed one has no lines); one row a plot, day and grade or reason for culling.';
COMMENT ON COLUMN cut_line.plot IS 'The plot.';
COMMENT ON COLUMN cut_line.cut_on IS 'The day.';
COMMENT ON COLUMN cut_line.grade_cm IS 'Marketable stems: the shortest length of their grade (cm); empty for culls.';
COMMENT ON COLUMN cut_line.cull_reason IS 'Culled stems: why; empty for marketable ones. Both empty: picked and nothing marketable (0).';
COMMENT ON COLUMN cut_line.stems IS 'How many stems.';
COMMENT ON COLUMN cut_line.entry IS 'The entry that brought this row.';

CREATE TABLE cut_line_was AS FROM cut_line LIMIT 0;
ALTER TABLE cut_line_was ADD COLUMN superseded_by INTEGER;
COMMENT ON TABLE cut_line_was IS 'Stems of picked days as they were recorded; one row each time one was superseded.';
COMMENT ON COLUMN cut_line_was.plot IS 'As in cut_line.';
COMMENT ON COLUMN cut_line_was.cut_on IS 'As in cut_line.';
COMMENT ON COLUMN cut_line_was.grade_cm IS 'As in cut_line.';
COMMENT ON COLUMN cut_line_was.cull_reason IS 'As in cut_line.';
COMMENT ON COLUMN cut_line_was.stems IS 'As in cut_line.';
COMMENT ON COLUMN cut_line_was.entry IS 'As in cut_line.';
COMMENT ON COLUMN cut_line_was.superseded_by IS 'The entry that superseded this row.';

CREATE TABLE stem_sample (
    plot      VARCHAR NOT NULL REFERENCES plot (plot),
    cut_on    DATE NOT NULL,
    stem      INTEGER NOT NULL CHECK (stem >= 1),
    length_cm DOUBLE NOT NULL CHECK (length_cm > 0 AND length_cm < 500),
    entry     INTEGER NOT NULL,
    PRIMARY KEY (plot, cut_on, stem)
);
INSERT INTO stem_sample BY NAME SELECT *, 1 AS entry FROM moved_stem_sample;
DROP TABLE moved_stem_sample;
COMMENT ON TABLE stem_sample IS 'Stems that were measured, of a picked day; one row a plot, day and stem.';
COMMENT ON COLUMN stem_sample.plot IS 'The plot.';
COMMENT ON COLUMN stem_sample.cut_on IS 'The day they were cut.';
COMMENT ON COLUMN stem_sample.stem IS 'The number of the stem within the sample.';
COMMENT ON COLUMN stem_sample.length_cm IS 'Its length (cm).';
COMMENT ON COLUMN stem_sample.entry IS 'The entry that brought this row.';

CREATE TABLE stem_sample_was AS FROM stem_sample LIMIT 0;
ALTER TABLE stem_sample_was ADD COLUMN superseded_by INTEGER;
COMMENT ON TABLE stem_sample_was IS 'Measured stems as they were recorded; one row each time one was superseded.';
COMMENT ON COLUMN stem_sample_was.plot IS 'As in stem_sample.';
COMMENT ON COLUMN stem_sample_was.cut_on IS 'As in stem_sample.';
COMMENT ON COLUMN stem_sample_was.stem IS 'As in stem_sample.';
COMMENT ON COLUMN stem_sample_was.length_cm IS 'As in stem_sample.';
COMMENT ON COLUMN stem_sample_was.entry IS 'As in stem_sample.';
COMMENT ON COLUMN stem_sample_was.superseded_by IS 'The entry that superseded this row.';

-- ------------------------------------------------------------------------------ scores

CREATE TEMP TABLE moved_score AS FROM score;
DROP TABLE score;
CREATE TABLE score (
    plot      VARCHAR NOT NULL REFERENCES plot (plot),
    scored_on DATE NOT NULL CHECK (scored_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    trait     VARCHAR NOT NULL CHECK (trait <> ''),
    value     DOUBLE NOT NULL,
    entry     INTEGER NOT NULL,
    PRIMARY KEY (plot, scored_on, trait)
);
INSERT INTO score BY NAME SELECT *, 1 AS entry FROM moved_score;
DROP TABLE moved_score;
COMMENT ON TABLE score IS 'Anything else that was scored; one row a plot, day and trait.';
COMMENT ON COLUMN score.plot IS 'The plot.';
COMMENT ON COLUMN score.scored_on IS 'The day.';
COMMENT ON COLUMN score.trait IS 'What was scored.';
COMMENT ON COLUMN score.value IS 'The score, in the trait''s own unit.';
COMMENT ON COLUMN score.entry IS 'The entry that brought this row.';

CREATE TABLE score_was AS FROM score LIMIT 0;
ALTER TABLE score_was ADD COLUMN superseded_by INTEGER;
COMMENT ON TABLE score_was IS 'Scores as they were recorded; one row each time one was superseded.';
COMMENT ON COLUMN score_was.plot IS 'As in score.';
COMMENT ON COLUMN score_was.scored_on IS 'As in score.';
COMMENT ON COLUMN score_was.trait IS 'As in score.';
COMMENT ON COLUMN score_was.value IS 'As in score.';
COMMENT ON COLUMN score_was.entry IS 'As in score.';
COMMENT ON COLUMN score_was.superseded_by IS 'The entry that superseded this row.';

-- ------------------------------------------------------------------------------ closings

CREATE TEMP TABLE moved_closing AS FROM closing;
DROP TABLE closing;
CREATE TABLE closing (
    trial       VARCHAR PRIMARY KEY REFERENCES trial (trial),
    closed_on   DATE NOT NULL CHECK (closed_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    reason      VARCHAR NOT NULL CHECK (reason <> ''),
    recorded_at TIMESTAMP NOT NULL,
    digest      VARCHAR CHECK (length(digest) = 64),
    entry       INTEGER NOT NULL
);
INSERT INTO closing BY NAME SELECT *, NULL AS digest, 1 AS entry FROM moved_closing;
DROP TABLE moved_closing;
COMMENT ON TABLE closing IS 'The end of a trial''s season, after which it takes no new records; one row a closed trial.';
COMMENT ON COLUMN closing.trial IS 'The trial.';
COMMENT ON COLUMN closing.closed_on IS 'The day picking ended.';
COMMENT ON COLUMN closing.reason IS 'Why it ended.';
COMMENT ON COLUMN closing.recorded_at IS 'When this was entered (UTC).';
COMMENT ON COLUMN closing.digest IS 'SHA-256 of the trial''s records as they were closed; empty = closed before digests were kept.';
COMMENT ON COLUMN closing.entry IS 'The entry that brought this row.';

CREATE TABLE closing_was AS FROM closing LIMIT 0;
ALTER TABLE closing_was ADD COLUMN superseded_by INTEGER;
COMMENT ON TABLE closing_was IS 'Closings that were taken back; one row each.';
COMMENT ON COLUMN closing_was.trial IS 'As in closing.';
COMMENT ON COLUMN closing_was.closed_on IS 'As in closing.';
COMMENT ON COLUMN closing_was.reason IS 'As in closing.';
COMMENT ON COLUMN closing_was.recorded_at IS 'As in closing.';
COMMENT ON COLUMN closing_was.digest IS 'As in closing.';
COMMENT ON COLUMN closing_was.entry IS 'As in closing.';
COMMENT ON COLUMN closing_was.superseded_by IS 'The entry that took this one back.';
