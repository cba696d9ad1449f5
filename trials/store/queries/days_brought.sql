-- Answers: which picking days do rows of the sheet of cuts with a history (the frame "brought") make?
-- One row per plot, day and time at which it came or changed, in the columns of the table.
-- Parameters: none.
SELECT plot, cut_on, outcome,
       coalesce(map_from_entries(list({'key': CAST(grade_cm AS INTEGER),
                                       'value': CAST(stems AS INTEGER)} ORDER BY grade_cm)
                    FILTER (grade_cm IS NOT NULL)),
                CAST(MAP {} AS MAP(INTEGER, INTEGER))) AS stems_by_grade,
       coalesce(map_from_entries(list({'key': CAST(cull_reason AS VARCHAR),
                                       'value': CAST(stems AS INTEGER)} ORDER BY cull_reason)
                    FILTER (cull_reason IS NOT NULL)),
                CAST(MAP {} AS MAP(VARCHAR, INTEGER))) AS culls_by_reason,
       coalesce(bool_or(stems = 0 AND grade_cm IS NULL AND cull_reason IS NULL), false)
           AS none_marketable,
       CAST(entry AS INTEGER) AS entry, CAST(superseded_by AS INTEGER) AS superseded_by
FROM brought
GROUP BY ALL;
