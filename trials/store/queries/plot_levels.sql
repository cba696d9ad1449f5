-- Answers: what grew in each plot of the trial?
-- One row per plot and factor, the factors in the trial's order.
-- Parameters: $trial (NULL = every trial).
-- Plots that got each other's plants exchange what was given to single plots; what was given to the
-- larger ground around them stays there.
WITH exchange AS (/* exchanges */)
SELECT CASE WHEN f.applied_to = 'plot' THEN coalesce(x.plants_of, l.plot) ELSE l.plot END AS plot,
       l.factor, l.level
FROM plot_level AS l
JOIN factor AS f USING (trial, factor)
LEFT JOIN exchange AS x USING (plot)
WHERE $trial IS NULL OR l.trial = $trial
ORDER BY f.place, 1;
