-- Answers: what did the newest germination test of each lot find?
-- One row per lot and replicate of the newest day on which the lot was tested.
-- Parameters: none.
SELECT lot, germinated, seeds, tested_on
FROM germination_test
QUALIFY tested_on = max(tested_on) OVER (PARTITION BY lot)
ORDER BY lot, replicate;
