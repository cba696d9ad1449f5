-- Answers: which stems were recorded of picked days that were superseded?
-- One row per plot, day and grade or reason for culling, each time its day was superseded.
-- Parameters: none.
SELECT plot, cut_on, unnest(map_keys(stems_by_grade)) AS grade_cm, NULL AS cull_reason,
       unnest(map_values(stems_by_grade)) AS stems, entry, superseded_by
FROM cut_was
UNION ALL
SELECT plot, cut_on, NULL, unnest(map_keys(culls_by_reason)), unnest(map_values(culls_by_reason)),
       entry, superseded_by
FROM cut_was
UNION ALL
SELECT plot, cut_on, NULL, NULL, 0, entry, superseded_by
FROM cut_was
WHERE none_marketable;
