-- Answers: which rows of {table} has a trial, or had once?
-- One row per row that was ever held: its columns, the entry that brought it, and the one that
-- superseded it (NULL = it holds).
-- Parameters: $trial.
SELECT {columns}, entry, superseded_by
FROM (
    SELECT {columns}, entry, CAST(NULL AS INTEGER) AS superseded_by FROM {table}
    UNION ALL
    SELECT {columns}, entry, superseded_by FROM {table}_was
) AS a
WHERE {trial} = $trial
ORDER BY entry, {key};
