-- Answers: which stakes stood in another plot's ground, in which, from which day until when?
-- One row per stake and span; until_day is the day it was put right, NULL while it still is not.
-- Parameters: none.
-- The first swap of two stakes takes them away, the next one brings them back.
SELECT trial, unnest([one, two]) AS stake, unnest([two, one]) AS plot, from_day, until_day
FROM (
    SELECT trial, least(plot, other_plot) AS one, greatest(plot, other_plot) AS two,
           happened_on AS from_day,
           lead(happened_on) OVER of_pair AS until_day,
           row_number() OVER of_pair AS turn
    FROM event
    WHERE kind = 'labels swapped'
    WINDOW of_pair AS (
        PARTITION BY trial, least(plot, other_plot), greatest(plot, other_plot)
        ORDER BY happened_on, plot, reason
    )
)
WHERE turn % 2 = 1
ORDER BY stake, from_day;
