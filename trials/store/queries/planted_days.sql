-- Answers: on which day was each plot planted out?
-- One row per plot that was.
-- Parameters: none.
-- A day in the plot's own row holds before one recorded as an event, that of the plot before that
-- of the whole trial.
SELECT g.plot,
       coalesce(g.transplanted_on,
                min(e.happened_on) FILTER (e.plot IS NOT NULL),
                min(e.happened_on)) AS transplanted_on
FROM planting AS g
JOIN plot AS p USING (plot)
LEFT JOIN event AS e
    ON e.trial = p.trial AND e.kind = 'planted' AND (e.plot = p.plot OR e.plot IS NULL)
GROUP BY g.plot, g.transplanted_on
HAVING coalesce(g.transplanted_on, min(e.happened_on)) IS NOT NULL
ORDER BY g.plot;
