-- Answers: what was noted of a plot on a day?
-- One row per event of that plot.
-- Parameters: $plot, $day.
SELECT kind, reason
FROM event
WHERE plot = $plot AND happened_on = $day
ORDER BY kind, reason;
