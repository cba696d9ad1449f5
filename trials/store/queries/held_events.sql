-- Answers: which events are held?
-- One row per event, in the columns of the sheet of events; no plot = the whole trial.
-- Parameters: none.
SELECT trial, plot, happened_on, kind, reason, other_plot, product, sprayed_at, re_entry_hours
FROM event ORDER BY ALL;
