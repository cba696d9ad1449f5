-- Does: throws a draft away.
-- One row, or none.
-- Parameters: $person, $purpose, $plot, $day.
DELETE FROM draft
WHERE person = $person AND purpose = $purpose AND plot = $plot AND day = $day;
