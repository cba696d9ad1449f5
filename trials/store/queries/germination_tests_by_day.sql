-- Answers: what did each germination test of each lot find, all its replicates together?
-- One row per lot and day on which it was tested.
-- Parameters: none.
SELECT lot, tested_on, sum(seeds)::INTEGER AS seeds, sum(germinated)::INTEGER AS germinated
FROM germination_test
GROUP BY lot, tested_on
ORDER BY lot, tested_on;
