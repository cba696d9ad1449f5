-- What is typed at the beds and not recorded yet. It is no record: no entry of the history, no
-- digest and no package knows of it, and its rows change and go.

CREATE TABLE draft (
    person   VARCHAR NOT NULL CHECK (person <> ''),
    purpose  VARCHAR NOT NULL CHECK (purpose IN ('tally', 'correction')),
    plot     VARCHAR NOT NULL CHECK (plot <> ''),
    day      DATE NOT NULL,
    token    VARCHAR NOT NULL CHECK (token <> ''),
    typed    VARCHAR NOT NULL,
    typed_at TIMESTAMP NOT NULL,
    PRIMARY KEY (person, purpose, plot, day)
);
COMMENT ON TABLE draft IS 'What somebody has typed for a plot and day and nobody has recorded; one row a person, purpose, plot and day, until it is recorded or thrown away.';
COMMENT ON COLUMN draft.person IS 'Who typed it.';
COMMENT ON COLUMN draft.purpose IS 'What it is to become: tally (a record), correction (of one that stands).';
COMMENT ON COLUMN draft.plot IS 'The plot it was typed for.';
COMMENT ON COLUMN draft.day IS 'The picking day it was typed for.';
COMMENT ON COLUMN draft.token IS 'The mark under which it will be recorded, so that it counts once.';
COMMENT ON COLUMN draft.typed IS 'The fields as they were typed: a JSON object of field and text.';
COMMENT ON COLUMN draft.typed_at IS 'When the last field was typed (UTC).';
