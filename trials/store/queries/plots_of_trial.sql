-- Answers: which plots has the trial?
-- One row per plot.
-- Parameters: $trial.
SELECT plot FROM plot WHERE trial = $trial;
