-- Answers: which photos are stored, and what do they show?
-- One row per photo, the newest day first; of a plot the variety that it grows.
-- Parameters: $variety, $trial (NULL = any).
WITH
exchange AS (/* exchanges */),
grown AS (
    SELECT CASE WHEN f.applied_to = 'plot' THEN coalesce(x.plants_of, l.plot) ELSE l.plot END AS plot,
           l.level
    FROM plot_level AS l
    JOIN factor AS f USING (trial, factor)
    LEFT JOIN exchange AS x USING (plot)
    WHERE l.factor = 'variety'
)
SELECT p.sha256, coalesce(p.variety, g.level) AS variety, p.plot, t.trial, p.taken_on,
       coalesce(p.caption, '') AS caption, p.entry, e.who, e.recorded_at
FROM photo AS p
JOIN entry AS e ON e.number = p.entry
LEFT JOIN plot AS t ON t.plot = p.plot
LEFT JOIN grown AS g ON g.plot = p.plot
WHERE ($variety IS NULL OR coalesce(p.variety, g.level) = $variety)
  AND ($trial IS NULL OR t.trial = $trial)
ORDER BY p.taken_on DESC, p.entry DESC, p.sha256;
