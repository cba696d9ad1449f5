-- A phone without signal sends its records later: whether a cut was made while its plot was closed
-- after a spray goes by when it was tallied, not by when it came.

ALTER TABLE entry ADD COLUMN tallied_at TIMESTAMP;
COMMENT ON COLUMN entry.tallied_at IS 'When it was tallied at the plot, by the phone that sent it later (UTC); empty = when it was made.';
