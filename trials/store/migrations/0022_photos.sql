-- Photos of varieties and plots. The files lie in a folder beside the store, each under its digest;
-- the store says what each shows. A photo that is withdrawn keeps its file, so that it can come back.

CREATE TABLE photo (
    sha256   VARCHAR PRIMARY KEY CHECK (length(sha256) = 64),
    variety  VARCHAR REFERENCES variety (variety),
    plot     VARCHAR REFERENCES plot (plot),
    taken_on DATE NOT NULL CHECK (taken_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    caption  VARCHAR CHECK (caption <> ''),
    entry    INTEGER NOT NULL,
    CHECK ((variety IS NULL) <> (plot IS NULL))
);
COMMENT ON TABLE photo IS 'Photos of varieties and plots; one row per photo.';
COMMENT ON COLUMN photo.sha256 IS 'SHA-256 of its file, which has this name in the folder of photos.';
COMMENT ON COLUMN photo.variety IS 'The variety it shows; empty = it shows a plot.';
COMMENT ON COLUMN photo.plot IS 'The plot it shows; empty = it shows a variety.';
COMMENT ON COLUMN photo.taken_on IS 'The day it was taken.';
COMMENT ON COLUMN photo.caption IS 'What there is to see, in the grower''s words; may be empty.';
COMMENT ON COLUMN photo.entry IS 'The change that added this row.';

CREATE TABLE photo_was AS FROM photo LIMIT 0;
ALTER TABLE photo_was ADD COLUMN superseded_by INTEGER;
COMMENT ON TABLE photo_was IS 'Photos that were withdrawn; one row each time one was.';
COMMENT ON COLUMN photo_was.sha256 IS 'As in photo.';
COMMENT ON COLUMN photo_was.variety IS 'As in photo.';
COMMENT ON COLUMN photo_was.plot IS 'As in photo.';
COMMENT ON COLUMN photo_was.taken_on IS 'As in photo.';
COMMENT ON COLUMN photo_was.caption IS 'As in photo.';
COMMENT ON COLUMN photo_was.entry IS 'As in photo.';
COMMENT ON COLUMN photo_was.superseded_by IS 'The change that superseded this row.';
