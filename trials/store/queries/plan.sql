-- Answers: what was the trial laid out from?
-- One row, or none where the trial was not planned here.
-- Parameters: $trial.
SELECT text, first_number, digest FROM plan WHERE trial = $trial;
