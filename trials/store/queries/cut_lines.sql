-- Answers: which stems are recorded of each picked day?
-- One row per plot, day and grade or reason for culling; both are NULL where 0 was written down.
-- Parameters: none.
SELECT plot, cut_on, unnest(map_keys(stems_by_grade)) AS grade_cm, NULL AS cull_reason,
       unnest(map_values(stems_by_grade)) AS stems, entry
FROM cut
UNION ALL
SELECT plot, cut_on, NULL, unnest(map_keys(culls_by_reason)), unnest(map_values(culls_by_reason)), entry
FROM cut
UNION ALL
SELECT plot, cut_on, NULL, NULL, 0, entry
FROM cut
WHERE none_marketable;
