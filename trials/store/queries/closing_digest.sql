-- Answers: which digest was the trial closed with?
-- One row (NULL: closed before digests were kept), or none while it is open.
-- Parameters: $trial.
SELECT digest FROM closing WHERE trial = $trial;
