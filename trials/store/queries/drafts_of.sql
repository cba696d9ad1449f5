-- Answers: what is typed and not recorded, and how do the trials stand by now?
-- One row per draft, the oldest first.
-- Parameters: $person, NULL = everybody.
SELECT d.person, d.purpose, d.plot, d.day, d.token, d.typed, d.typed_at, p.trial, k.closed_on
FROM draft AS d
LEFT JOIN plot AS p USING (plot)
LEFT JOIN closing AS k ON k.trial = p.trial
WHERE $person IS NULL OR d.person = $person
ORDER BY d.typed_at, d.plot, d.day, d.purpose;
