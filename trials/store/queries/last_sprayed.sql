-- Answers: when was a plot last sprayed, as far as noted?
-- One row; NULL if it never was.
-- Parameters: $plot, $day.
SELECT max(e.happened_on)
FROM event AS e
JOIN plot AS p ON p.trial = e.trial AND (e.plot = p.plot OR e.plot IS NULL)
WHERE p.plot = $plot AND e.kind = 'sprayed' AND e.happened_on <= $day;
