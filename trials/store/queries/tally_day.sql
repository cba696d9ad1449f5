-- Answers: was a plot picked on a day, and who recorded it?
-- One row, or none.
-- Parameters: $plot, $day.
SELECT c.outcome, e.who, c.entry
FROM cut AS c
LEFT JOIN entry AS e ON e.number = c.entry
WHERE c.plot = $plot AND c.cut_on = $day;
