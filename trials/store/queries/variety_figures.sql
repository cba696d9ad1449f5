-- Answers: how tall is each variety, and how long do its stems last in the vase?
-- One row per variety and trial that measured either; NULL = not recorded. Plots that were lost are
-- left out. Height is the mean of the plots' mean stem lengths (cm), vase life of their mean scores
-- (days).
-- Parameters: none.
WITH
exchange AS (/* exchanges */),
grown AS (
    SELECT l.trial, l.level AS variety,
           CASE WHEN f.applied_to = 'plot' THEN coalesce(x.plants_of, l.plot) ELSE l.plot END AS plot
    FROM plot_level AS l
    JOIN factor AS f USING (trial, factor)
    LEFT JOIN exchange AS x USING (plot)
    WHERE l.factor = 'variety'
),
lost AS (
    SELECT DISTINCT p.plot
    FROM plot AS p
    JOIN event AS e ON e.trial = p.trial AND (e.plot = p.plot OR e.plot IS NULL)
    WHERE e.kind = 'lost'
),
sampled AS (SELECT plot, avg(length_cm) AS height_cm FROM stem_sample GROUP BY plot),
scored AS (
    SELECT plot, avg(value) AS vase_life_days
    FROM score
    WHERE trait ILIKE 'vase life%' OR trait ILIKE 'vase_life%'
    GROUP BY plot
)
SELECT g.variety, g.trial, t.season, avg(s.height_cm) AS height_cm,
       avg(v.vase_life_days) AS vase_life_days
FROM grown AS g
JOIN trial AS t USING (trial)
ANTI JOIN lost USING (plot)
LEFT JOIN sampled AS s USING (plot)
LEFT JOIN scored AS v USING (plot)
GROUP BY ALL
HAVING count(s.height_cm) + count(v.vase_life_days) > 0
ORDER BY g.variety, t.season, g.trial;
