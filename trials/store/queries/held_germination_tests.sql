-- Answers: which germination tests are held?
-- One row per lot, day and replicate, in the columns of the sheet of germination tests.
-- Parameters: none.
SELECT lot, tested_on, replicate, seeds, germinated FROM germination_test ORDER BY ALL;
