-- Answers: when was the newest picking day of a plot recorded, of whichever day?
-- One row; NULL where none is recorded.
-- Parameters: $plot.
SELECT max(e.recorded_at)
FROM cut AS c
JOIN entry AS e ON e.number = c.entry
WHERE c.plot = $plot;
