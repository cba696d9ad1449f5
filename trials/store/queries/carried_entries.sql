-- Answers: who made these entries (the frame "named"), when and why?
-- One row per entry, the oldest first; it undoes only an entry that is named too.
-- Parameters: none.
SELECT number, recorded_at, who, what, why,
       CASE WHEN undoes IN (SELECT number FROM named) THEN undoes END AS undoes
FROM entry
SEMI JOIN named USING (number)
ORDER BY number;
