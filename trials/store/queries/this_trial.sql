-- Answers: which trial is asked about?
-- One row: its code, to be joined with.
-- Parameters: $trial.
SELECT $trial AS trial;
