-- Answers: who changed the records, when and why?
-- One row per entry, the newest first.
-- Parameters: none.
SELECT e.number, e.recorded_at, e.who, e.what, e.why, e.undoes,
       (SELECT max(u.number) FROM entry AS u WHERE u.undoes = e.number) AS undone_by,
       coalesce((SELECT list(s.file ORDER BY s.file) FROM source AS s WHERE s.entry = e.number), [])
           AS files,
       e.origin, e.origin_number
FROM entry AS e
ORDER BY e.number DESC;
