-- Does: stores new events.
-- One row per event, from the frame "fresh" (the sheet of events, and the entry).
-- Parameters: none.
INSERT INTO event BY NAME
SELECT trial, plot, other_plot, happened_on, kind, reason, product, sprayed_at, re_entry_hours, entry
FROM fresh;
