-- Does: stores new events.
-- One row per event, from the frame "fresh" (the sheet of events).
-- Parameters: none.
INSERT INTO event BY NAME SELECT trial, plot, happened_on, kind, reason FROM fresh;
