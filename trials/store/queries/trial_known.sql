-- Answers: is there a trial of that code?
-- One row where there is.
-- Parameters: $trial.
SELECT trial FROM trial WHERE trial = $trial;
