-- What was laid out: trials with the factors they vary, blocks, whole plots, plots and plantings.

CREATE TABLE trial (
    trial              VARCHAR PRIMARY KEY CHECK (trial <> ''),
    season             INTEGER NOT NULL,
    site               VARCHAR NOT NULL,
    crop               VARCHAR NOT NULL CHECK (crop <> ''),
    question           VARCHAR NOT NULL,
    check_level        VARCHAR,
    primary_measure    VARCHAR NOT NULL CHECK (primary_measure <> ''),
    alpha              DOUBLE NOT NULL CHECK (alpha > 0 AND alpha < 0.5),
    margin             VARCHAR CHECK (coalesce(try_cast(trim(rtrim(margin, '% ')) AS DOUBLE), 0) > 0 OR margin IS NULL),
    shortest_length_cm DOUBLE NOT NULL CHECK (shortest_length_cm >= 0 AND shortest_length_cm < 500),
    FOREIGN KEY (season, site) REFERENCES season (season, site)
);
COMMENT ON TABLE trial IS 'A question put to the beds in one season at one site; one row a trial.';
COMMENT ON COLUMN trial.trial IS 'Its code.';
COMMENT ON COLUMN trial.season IS 'The season, by its year.';
COMMENT ON COLUMN trial.site IS 'The site.';
COMMENT ON COLUMN trial.crop IS 'The crop.';
COMMENT ON COLUMN trial.question IS 'What the grower wants to know, in words.';
COMMENT ON COLUMN trial.check_level IS 'The level the others are held against; empty = none.';
COMMENT ON COLUMN trial.primary_measure IS 'The measure that decides, fixed beforehand.';
COMMENT ON COLUMN trial.alpha IS 'The chance of a false alarm that is accepted, fixed beforehand.';
COMMENT ON COLUMN trial.margin IS 'The difference that does not matter: 3 is in the measure''s unit, 10 % is of the mean; empty = none stated.';
COMMENT ON COLUMN trial.shortest_length_cm IS 'The shortest stem that can be sold (cm).';

CREATE TABLE factor (
    trial      VARCHAR NOT NULL REFERENCES trial (trial),
    factor     VARCHAR NOT NULL CHECK (factor <> ''),
    place      INTEGER NOT NULL CHECK (place >= 1),
    applied_to VARCHAR NOT NULL CHECK (applied_to IN ('plot', 'whole plot', 'split plot', 'strip')),
    PRIMARY KEY (trial, factor)
);
COMMENT ON TABLE factor IS 'What a trial varies on purpose; one row a trial and factor.';
COMMENT ON COLUMN factor.trial IS 'The trial.';
COMMENT ON COLUMN factor.factor IS 'The factor''s name.';
COMMENT ON COLUMN factor.place IS 'Its place in the order in which the trial names them, from 1 on.';
COMMENT ON COLUMN factor.applied_to IS 'The piece of ground that was given one level as a whole.';

CREATE TABLE level (
    trial  VARCHAR NOT NULL,
    factor VARCHAR NOT NULL,
    level  VARCHAR NOT NULL CHECK (level <> ''),
    PRIMARY KEY (trial, factor, level),
    FOREIGN KEY (trial, factor) REFERENCES factor (trial, factor)
);
COMMENT ON TABLE level IS 'What a factor was set to; one row a trial, factor and level.';
COMMENT ON COLUMN level.trial IS 'The trial.';
COMMENT ON COLUMN level.factor IS 'The factor.';
COMMENT ON COLUMN level.level IS 'The level, as it was written, also where it is a number.';

CREATE TABLE block (
    trial VARCHAR NOT NULL REFERENCES trial (trial),
    block VARCHAR NOT NULL CHECK (block <> ''),
    PRIMARY KEY (trial, block)
);
COMMENT ON TABLE block IS 'A stretch of ground as even as possible; one row a trial and block.';
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
-- The same label in another block is another piece of ground.
CREATE UNIQUE INDEX whole_plot_label ON whole_plot (trial, coalesce(block, ''), whole_plot);
COMMENT ON TABLE whole_plot IS 'A group of plots that was given one level of a factor as a whole; one row a whole plot.';
COMMENT ON COLUMN whole_plot.trial IS 'The trial.';
COMMENT ON COLUMN whole_plot.number IS 'The store''s own number for it within the trial.';
COMMENT ON COLUMN whole_plot.block IS 'The block it lies in; empty = the trial has none.';
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
COMMENT ON TABLE plot IS 'The smallest piece of ground with one treatment; one row a plot.';
COMMENT ON COLUMN plot.plot IS 'Its code, unique over the whole farm and all seasons.';
COMMENT ON COLUMN plot.trial IS 'The trial.';
COMMENT ON COLUMN plot.block IS 'The block it lies in; empty = the trial has none.';
COMMENT ON COLUMN plot.whole_plot_number IS 'The whole plot it lies in; empty = the trial has none.';
COMMENT ON COLUMN plot.bed IS 'The bed it lies in.';
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
COMMENT ON TABLE plot_level IS 'What each plot was given; one row a plot and factor.';
COMMENT ON COLUMN plot_level.plot IS 'The plot.';
COMMENT ON COLUMN plot_level.trial IS 'Its trial.';
COMMENT ON COLUMN plot_level.factor IS 'The factor.';
COMMENT ON COLUMN plot_level.level IS 'The level it was given.';

CREATE TABLE planting (
    plot            VARCHAR PRIMARY KEY REFERENCES plot (plot),
    lot             VARCHAR REFERENCES seed_lot (lot),
    plants_set      INTEGER NOT NULL CHECK (plants_set > 0),
    net_length_m    DOUBLE NOT NULL CHECK (net_length_m > 0),
    net_area_m2     DOUBLE NOT NULL CHECK (net_area_m2 > 0),
    transplanted_on DATE NOT NULL CHECK (transplanted_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    UNIQUE (plot, plants_set)  -- so that a stand count can be held against it
);
COMMENT ON TABLE planting IS 'What was planted in a plot, guard plants left out; one row a plot.';
COMMENT ON COLUMN planting.plot IS 'The plot.';
COMMENT ON COLUMN planting.lot IS 'The seed lot; empty = not recorded.';
COMMENT ON COLUMN planting.plants_set IS 'Plants set out.';
COMMENT ON COLUMN planting.net_length_m IS 'Length of bed they take, without guards (m).';
COMMENT ON COLUMN planting.net_area_m2 IS 'Area they take, without guards (m²).';
COMMENT ON COLUMN planting.transplanted_on IS 'Day of planting out.';
