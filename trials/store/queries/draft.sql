-- Answers: what is kept of a draft?
-- One row, or none.
-- Parameters: $person, $purpose, $plot, $day.
SELECT token, typed
FROM draft
WHERE person = $person AND purpose = $purpose AND plot = $plot AND day = $day;
