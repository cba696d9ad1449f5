-- Answers: which plots were planted with another plot's plants, and with whose?
-- One row per plot.
-- Parameters: none.
-- Two plots that were swapped twice have their own again.
SELECT trial, unnest([one, two]) AS plot, unnest([two, one]) AS plants_of
FROM (
    SELECT trial, least(plot, other_plot) AS one, greatest(plot, other_plot) AS two
    FROM event
    WHERE kind = 'plants swapped'
    GROUP BY ALL
    HAVING count(*) % 2 = 1
)
ORDER BY plot;
