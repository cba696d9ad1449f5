-- The farm's own figures of its crops, which a calendar takes before those the program comes with.

CREATE TABLE crop_figure (
    crop   VARCHAR NOT NULL CHECK (crop <> ''),
    figure VARCHAR NOT NULL CHECK (figure <> ''),
    value  DOUBLE NOT NULL CHECK (value >= 0 AND value <= 1000),
    source VARCHAR NOT NULL
           CHECK (source IN ('own records', 'seed packet', 'common practice', 'assumed')),
    entry  INTEGER NOT NULL,
    PRIMARY KEY (crop, figure)
);
COMMENT ON TABLE crop_figure IS 'What the farm knows of a crop for its calendar; one row per crop and figure.';
COMMENT ON COLUMN crop_figure.crop IS 'The crop.';
COMMENT ON COLUMN crop_figure.figure IS 'Which figure, by its key in [calendar] of a plan; its unit stands in the name.';
COMMENT ON COLUMN crop_figure.value IS 'Its value: days, °C, cm or a number; of direct_sown 1 (yes) or 0 (no).';
COMMENT ON COLUMN crop_figure.source IS 'Where the value comes from.';
COMMENT ON COLUMN crop_figure.entry IS 'The entry that brought this row.';

CREATE TABLE crop_figure_was AS FROM crop_figure LIMIT 0;
ALTER TABLE crop_figure_was ADD COLUMN superseded_by INTEGER;
COMMENT ON TABLE crop_figure_was IS 'Figures of crops as they were; one row each time one was superseded.';
COMMENT ON COLUMN crop_figure_was.crop IS 'As in crop_figure.';
COMMENT ON COLUMN crop_figure_was.figure IS 'As in crop_figure.';
COMMENT ON COLUMN crop_figure_was.value IS 'As in crop_figure.';
COMMENT ON COLUMN crop_figure_was.source IS 'As in crop_figure.';
COMMENT ON COLUMN crop_figure_was.entry IS 'As in crop_figure.';
COMMENT ON COLUMN crop_figure_was.superseded_by IS 'The entry that superseded this row.';
