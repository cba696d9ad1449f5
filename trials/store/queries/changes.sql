-- Answers: which rows of {table} came and went, and by which entry?
-- One row per row and coming or going; its key and figures as JSON.
-- Parameters: none; a part of the view "change".
SELECT a.entry, a.went, '{table}' AS record, {trial} AS trial, {plot} AS plot,
       {other_plot} AS other_plot, to_json({key}) AS place, to_json({figures}) AS figures
FROM (
    SELECT {columns}, entry, false AS went FROM {table}
    UNION ALL
    SELECT {columns}, entry, false FROM {table}_was
    UNION ALL
    SELECT {columns}, superseded_by, true FROM {table}_was
) AS a
