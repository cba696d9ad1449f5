-- Answers: what happened in the trial beside the picking?
-- One row per event; no plot = the whole trial.
-- Parameters: $trial.
SELECT plot, other_plot, happened_on, kind, reason, product, sprayed_at, re_entry_hours
FROM event
WHERE trial = $trial
ORDER BY happened_on, plot NULLS FIRST, kind, reason;
