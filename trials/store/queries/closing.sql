-- Answers: when and why was the trial closed?
-- One row, or none while it is open.
-- Parameters: $trial.
SELECT closed_on, reason FROM closing WHERE trial = $trial;
