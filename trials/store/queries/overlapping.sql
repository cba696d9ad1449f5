-- Answers: which rows of the frame "brought" were held twice at a time?
-- One row per row that came before the one of its key was superseded.
-- Parameters: none; {names}, the columns of the key, are filled in.
SELECT {names}, entry
FROM (
    SELECT {names}, entry,
           lag(coalesce(superseded_by, 2147483647))
               OVER (PARTITION BY {names} ORDER BY entry, superseded_by) AS before
    FROM brought
)
WHERE entry < before
ORDER BY ALL;
