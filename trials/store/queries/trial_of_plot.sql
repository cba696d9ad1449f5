-- Answers: which trial does a plot belong to?
-- One row with its code, none where there is no such plot.
-- Parameters: $plot.
SELECT trial FROM plot WHERE plot = $plot;
