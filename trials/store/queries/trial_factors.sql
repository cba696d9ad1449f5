-- Answers: what does each trial vary, on which ground and at which levels?
-- One row per trial and factor; its levels in a list, numbers by value before words by alphabet.
-- Parameters: none.
SELECT f.trial, f.factor, f.applied_to,
       coalesce(list(l.level ORDER BY try_cast(l.level AS DOUBLE) NULLS LAST, l.level)
                FILTER (l.level IS NOT NULL), []) AS levels
FROM factor AS f
LEFT JOIN level AS l USING (trial, factor)
GROUP BY f.trial, f.place, f.factor, f.applied_to
ORDER BY f.trial, f.place;
