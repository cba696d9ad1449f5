-- Answers: which trials were laid out from a plan, the newest first?
-- One row per trial.
-- Parameters: none.
SELECT trial
FROM plan
ORDER BY planned_at DESC, trial;
