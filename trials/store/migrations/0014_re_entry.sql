-- What was sprayed, at which time of day, and how long the label keeps people out of the plot.

DROP INDEX event_row;
ALTER TABLE event ADD COLUMN product VARCHAR;
ALTER TABLE event ADD COLUMN sprayed_at VARCHAR;
ALTER TABLE event ADD COLUMN re_entry_hours DOUBLE;
-- The whole row is its key: two sprays of one day are two events.
CREATE UNIQUE INDEX event_row ON event
    (trial, coalesce(plot, ''), coalesce(other_plot, ''), happened_on, kind, coalesce(reason, ''),
     coalesce(product, ''), coalesce(sprayed_at, ''), coalesce(re_entry_hours, -1));
COMMENT ON COLUMN event.product IS 'What was sprayed; empty = not recorded, or no spray.';
COMMENT ON COLUMN event.sprayed_at IS 'Time of day when spraying ended, as HH:MM by the farm''s clock; empty = not recorded.';
COMMENT ON COLUMN event.re_entry_hours IS 'Hours on the label during which nobody enters the plot; empty = not recorded.';

ALTER TABLE event_was ADD COLUMN product VARCHAR;
ALTER TABLE event_was ADD COLUMN sprayed_at VARCHAR;
ALTER TABLE event_was ADD COLUMN re_entry_hours DOUBLE;
COMMENT ON COLUMN event_was.product IS 'As in event.';
COMMENT ON COLUMN event_was.sprayed_at IS 'As in event.';
COMMENT ON COLUMN event_was.re_entry_hours IS 'As in event.';
