-- Answers: how are somebody's own sheets read?
-- One row per kind of sheet: what its headings are known by, and the reading agreed on last.
-- Parameters: none.
SELECT signature, arg_max(text, entry) AS text
FROM reading
GROUP BY signature
ORDER BY signature;
