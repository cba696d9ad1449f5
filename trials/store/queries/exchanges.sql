-- Answers: which plots were planted with another plot's plants, and with whose?
-- One row per plot.
-- Parameters: $trial.
-- Two plots that were swapped twice have their own again.
SELECT unnest([one, two]) AS plot, unnest([two, one]) AS plants_of
FROM (
    SELECT least(plot, other_plot) AS one, greatest(plot, other_plot) AS two
    FROM event
    WHERE trial = $trial AND kind = 'plants swapped'
    GROUP BY ALL
    HAVING count(*) % 2 = 1
)
ORDER BY plot;
