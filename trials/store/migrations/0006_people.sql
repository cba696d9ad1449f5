-- Who may look in from the farm's network: people, where they are signed in, and invitations.
-- Of passphrases and tokens only digests are kept. Rows of these tables may change: they are no
-- records of trials.

CREATE TABLE person (
    name            VARCHAR PRIMARY KEY CHECK (name <> ''),
    role            VARCHAR NOT NULL CHECK (role IN ('picker', 'grower', 'adviser')),
    email           VARCHAR CHECK (email <> ''),
    passphrase_hash VARCHAR CHECK (passphrase_hash <> ''),
    added_at        TIMESTAMP NOT NULL,
    ended_at        TIMESTAMP
);
COMMENT ON TABLE person IS 'Somebody who may sign in to the pages; one row a person, also after they left.';
COMMENT ON COLUMN person.name IS 'The name they sign in with.';
COMMENT ON COLUMN person.role IS 'What they may do: picker (tally), grower (everything), adviser (read).';
COMMENT ON COLUMN person.email IS 'The address by which another sign-in service knows them; empty = none.';
COMMENT ON COLUMN person.passphrase_hash IS 'Argon2id hash of their passphrase with its salt and costs; empty = none chosen yet.';
COMMENT ON COLUMN person.added_at IS 'When they were added (UTC).';
COMMENT ON COLUMN person.ended_at IS 'When they were shut out (UTC); empty = they may sign in.';

CREATE TABLE sign_in (
    token_sha256 VARCHAR PRIMARY KEY CHECK (length(token_sha256) = 64),
    name         VARCHAR NOT NULL,
    started_at   TIMESTAMP NOT NULL,
    seen_at      TIMESTAMP NOT NULL,
    ends_at      TIMESTAMP NOT NULL
);
COMMENT ON TABLE sign_in IS 'A person signed in on a device; one row a device, until they sign out or it runs out.';
COMMENT ON COLUMN sign_in.token_sha256 IS 'SHA-256 of the token that the device holds; the token itself is not kept.';
COMMENT ON COLUMN sign_in.name IS 'Who.';
COMMENT ON COLUMN sign_in.started_at IS 'When they signed in (UTC).';
COMMENT ON COLUMN sign_in.seen_at IS 'When it was last used (UTC), to a few minutes.';
COMMENT ON COLUMN sign_in.ends_at IS 'When it ends whatever happens (UTC).';

CREATE TABLE invitation (
    token_sha256 VARCHAR PRIMARY KEY CHECK (length(token_sha256) = 64),
    name         VARCHAR NOT NULL CHECK (name <> ''),
    role         VARCHAR NOT NULL CHECK (role IN ('picker', 'grower', 'adviser')),
    ends_at      TIMESTAMP NOT NULL
);
COMMENT ON TABLE invitation IS 'Leave to choose a passphrase; one row an invitation, gone once it is used.';
COMMENT ON COLUMN invitation.token_sha256 IS 'SHA-256 of the token in its link; the token itself is not kept.';
COMMENT ON COLUMN invitation.name IS 'Who is invited.';
COMMENT ON COLUMN invitation.role IS 'What they may do.';
COMMENT ON COLUMN invitation.ends_at IS 'Until when it may be used (UTC).';
