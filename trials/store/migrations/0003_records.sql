-- What was seen: stands, events, cuts, samples, scores; and the end of each trial.

CREATE TABLE stand_count (
    plot       VARCHAR NOT NULL,
    counted_on DATE NOT NULL CHECK (counted_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    living     INTEGER NOT NULL CHECK (living >= 0),
    plants_set INTEGER NOT NULL,
    PRIMARY KEY (plot, counted_on),
    FOREIGN KEY (plot, plants_set) REFERENCES planting (plot, plants_set),
    CHECK (living <= plants_set)
);
COMMENT ON TABLE stand_count IS 'Living plants counted; one row a plot and day.';
COMMENT ON COLUMN stand_count.plot IS 'The plot.';
COMMENT ON COLUMN stand_count.counted_on IS 'The day.';
COMMENT ON COLUMN stand_count.living IS 'Plants found alive.';
COMMENT ON COLUMN stand_count.plants_set IS 'Plants set out, repeated from planting so that no count can exceed it.';

CREATE TABLE event (
    trial       VARCHAR NOT NULL REFERENCES trial (trial),
    plot        VARCHAR,
    happened_on DATE NOT NULL CHECK (happened_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    kind        VARCHAR NOT NULL CHECK (kind IN ('lost', 'pinched', 'netted', 'sprayed', 'frost', 'note')),
    reason      VARCHAR,
    FOREIGN KEY (trial, plot) REFERENCES plot (trial, plot),
    CHECK (kind <> 'lost' OR reason IS NOT NULL)
);
-- The whole row is its key: two notes of one day are two events.
CREATE UNIQUE INDEX event_row ON event (trial, coalesce(plot, ''), happened_on, kind, coalesce(reason, ''));
COMMENT ON TABLE event IS 'What happened beside the picking; one row an event.';
COMMENT ON COLUMN event.trial IS 'The trial.';
COMMENT ON COLUMN event.plot IS 'The plot; empty = the whole trial.';
COMMENT ON COLUMN event.happened_on IS 'The day.';
COMMENT ON COLUMN event.kind IS 'What it was; a lost plot has no measures.';
COMMENT ON COLUMN event.reason IS 'Why, or the note itself; never empty where a plot was lost.';

CREATE TABLE cut (
    plot    VARCHAR NOT NULL REFERENCES plot (plot),
    cut_on  DATE NOT NULL CHECK (cut_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    outcome VARCHAR NOT NULL CHECK (outcome IN ('picked', 'missed')),
    PRIMARY KEY (plot, cut_on),
    UNIQUE (plot, cut_on, outcome)  -- so that only a picked day can have lines
);
COMMENT ON TABLE cut IS 'A picking day at a plot; one row a plot and day.';
COMMENT ON COLUMN cut.plot IS 'The plot.';
COMMENT ON COLUMN cut.cut_on IS 'The day.';
COMMENT ON COLUMN cut.outcome IS 'picked (perhaps with nothing to cut) or missed (nobody came by: its stems are unknown, not 0).';

CREATE TABLE cut_line (
    plot        VARCHAR NOT NULL,
    cut_on      DATE NOT NULL,
    outcome     VARCHAR NOT NULL CHECK (outcome = 'picked'),
    grade_cm    INTEGER CHECK (grade_cm >= 0 AND grade_cm < 500),
    cull_reason VARCHAR CHECK (cull_reason <> ''),
    stems       INTEGER NOT NULL CHECK (stems >= 0),
    FOREIGN KEY (plot, cut_on, outcome) REFERENCES cut (plot, cut_on, outcome),
    CHECK ((grade_cm IS NULL) <> (cull_reason IS NULL)
           OR (grade_cm IS NULL AND cull_reason IS NULL AND stems = 0))
);
CREATE UNIQUE INDEX cut_line_key ON cut_line (plot, cut_on, coalesce(grade_cm, -1), coalesce(cull_reason, ''));
COMMENT ON TABLE cut_line IS 'Stems of a picked day; one row a plot, day and grade or reason for culling.';
COMMENT ON COLUMN cut_line.plot IS 'The plot.';
COMMENT ON COLUMN cut_line.cut_on IS 'The day.';
COMMENT ON COLUMN cut_line.outcome IS 'Always picked: a missed day has no lines.';
COMMENT ON COLUMN cut_line.grade_cm IS 'Marketable stems: the shortest length of their grade (cm); empty for culls.';
COMMENT ON COLUMN cut_line.cull_reason IS 'Culled stems: why; empty for marketable ones. Both empty: picked and nothing marketable (0).';
COMMENT ON COLUMN cut_line.stems IS 'How many stems.';

CREATE TABLE stem_sample (
    plot      VARCHAR NOT NULL,
    cut_on    DATE NOT NULL,
    stem      INTEGER NOT NULL CHECK (stem >= 1),
    length_cm DOUBLE NOT NULL CHECK (length_cm > 0 AND length_cm < 500),
    PRIMARY KEY (plot, cut_on, stem),
    FOREIGN KEY (plot, cut_on) REFERENCES cut (plot, cut_on)
);
COMMENT ON TABLE stem_sample IS 'Stems that were measured; one row a plot, day and stem.';
COMMENT ON COLUMN stem_sample.plot IS 'The plot.';
COMMENT ON COLUMN stem_sample.cut_on IS 'The day they were cut.';
COMMENT ON COLUMN stem_sample.stem IS 'The number of the stem within the sample.';
COMMENT ON COLUMN stem_sample.length_cm IS 'Its length (cm).';

CREATE TABLE score (
    plot      VARCHAR NOT NULL REFERENCES plot (plot),
    scored_on DATE NOT NULL CHECK (scored_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    trait     VARCHAR NOT NULL CHECK (trait <> ''),
    value     DOUBLE NOT NULL,
    PRIMARY KEY (plot, scored_on, trait)
);
COMMENT ON TABLE score IS 'Anything else that was scored; one row a plot, day and trait.';
COMMENT ON COLUMN score.plot IS 'The plot.';
COMMENT ON COLUMN score.scored_on IS 'The day.';
COMMENT ON COLUMN score.trait IS 'What was scored.';
COMMENT ON COLUMN score.value IS 'The score, in the trait''s own unit.';

CREATE TABLE closing (
    trial       VARCHAR PRIMARY KEY REFERENCES trial (trial),
    closed_on   DATE NOT NULL CHECK (closed_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    reason      VARCHAR NOT NULL CHECK (reason <> ''),
    recorded_at TIMESTAMP NOT NULL
);
COMMENT ON TABLE closing IS 'The end of a trial''s season, after which it takes no records; one row a closed trial.';
COMMENT ON COLUMN closing.trial IS 'The trial.';
COMMENT ON COLUMN closing.closed_on IS 'The day picking ended.';
COMMENT ON COLUMN closing.reason IS 'Why it ended.';
COMMENT ON COLUMN closing.recorded_at IS 'When this was entered (UTC).';
