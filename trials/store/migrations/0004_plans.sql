-- How trials were planned: the plan as written, and what else is known of where its plots lie.

CREATE TABLE plan (
    trial        VARCHAR PRIMARY KEY REFERENCES trial (trial),
    text         VARCHAR NOT NULL CHECK (text <> ''),
    first_number INTEGER NOT NULL CHECK (first_number >= 1),
    digest       VARCHAR NOT NULL CHECK (digest <> ''),
    planned_at   TIMESTAMP NOT NULL
);
COMMENT ON TABLE plan IS 'What a trial was laid out from; one row a planned trial.';
COMMENT ON COLUMN plan.trial IS 'The trial.';
COMMENT ON COLUMN plan.text IS 'The plan as it was written.';
COMMENT ON COLUMN plan.first_number IS 'The number within the season that its first plot was given.';
COMMENT ON COLUMN plan.digest IS 'The digest of the layout: drawn again it must be the same.';
COMMENT ON COLUMN plan.planned_at IS 'When it was laid out (UTC).';

CREATE TABLE plot_place (
    plot             VARCHAR PRIMARY KEY REFERENCES plot (plot),
    row_label        VARCHAR CHECK (row_label <> ''),
    column_label     VARCHAR CHECK (column_label <> ''),
    incomplete_block VARCHAR CHECK (incomplete_block <> ''),
    split_plot       VARCHAR CHECK (split_plot <> '')
);
COMMENT ON TABLE plot_place IS 'Where a planned plot lies besides its block; one row a plot of such a layout.';
COMMENT ON COLUMN plot_place.plot IS 'The plot.';
COMMENT ON COLUMN plot_place.row_label IS 'Its row; empty = the layout has none.';
COMMENT ON COLUMN plot_place.column_label IS 'Its column; empty = the layout has none.';
COMMENT ON COLUMN plot_place.incomplete_block IS 'Its incomplete block; empty = the layout has none.';
COMMENT ON COLUMN plot_place.split_plot IS 'Its split plot; empty = the layout has none.';
