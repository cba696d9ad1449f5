-- What was agreed when files were loaded: how somebody's own sheets are read, and which unlikely
-- records are true.

CREATE TABLE reading (
    signature VARCHAR NOT NULL CHECK (length(signature) = 64),
    entry     INTEGER NOT NULL,
    text      VARCHAR NOT NULL CHECK (text <> ''),
    PRIMARY KEY (signature, entry)
);
COMMENT ON TABLE reading IS 'How a kind of somebody''s own sheets is read; one row each time a load agreed on it, the last one holds.';
COMMENT ON COLUMN reading.signature IS 'What the headings of these sheets are known by.';
COMMENT ON COLUMN reading.entry IS 'The entry that took rows in by it.';
COMMENT ON COLUMN reading.text IS 'The reading, as TOML.';

CREATE TABLE accepted (
    entry       INTEGER NOT NULL,
    sheet       VARCHAR NOT NULL CHECK (sheet <> ''),
    file        VARCHAR NOT NULL CHECK (file <> ''),
    row_number  BIGINT,
    column_name VARCHAR,
    doubt       VARCHAR NOT NULL CHECK (doubt <> ''),
    reason      VARCHAR NOT NULL CHECK (reason <> '')
);
COMMENT ON TABLE accepted IS 'Records beyond what is likely that somebody answered for; one row a record and doubt.';
COMMENT ON COLUMN accepted.entry IS 'The entry that took the record in.';
COMMENT ON COLUMN accepted.sheet IS 'The sheet it belongs to.';
COMMENT ON COLUMN accepted.file IS 'The file it came from.';
COMMENT ON COLUMN accepted.row_number IS 'Its row there; empty = said of several rows.';
COMMENT ON COLUMN accepted.column_name IS 'Its column there; empty = the whole row.';
COMMENT ON COLUMN accepted.doubt IS 'What was unlikely about it.';
COMMENT ON COLUMN accepted.reason IS 'Why it is true, in their words.';
