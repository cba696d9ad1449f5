-- Answers: was a plot picked on a day, and who recorded it, when, and when was it tallied?
-- One row, or none.
-- Parameters: $plot, $day.
SELECT c.outcome, e.who, c.entry, e.recorded_at,
       coalesce(e.tallied_at, e.recorded_at) AS tallied_at
FROM cut AS c
LEFT JOIN entry AS e ON e.number = c.entry
WHERE c.plot = $plot AND c.cut_on = $day;
