-- Answers: how long did the stems of each plot of the trial last in the vase?
-- One row per plot with a test: the mean of its days. Other scores are not read.
-- Parameters: $trial.
WITH level AS (/* plot_levels */)
SELECT s.plot, l.level AS variety, avg(s.value) AS days
FROM score AS s
JOIN plot AS p USING (plot)
JOIN level AS l ON l.plot = s.plot AND l.factor = 'variety'
WHERE p.trial = $trial AND s.value >= 0
  AND trim(regexp_replace(lower(s.trait), '[^a-z]+', ' ', 'g'))
      IN ('vase life', 'vase life days', 'vase life in days', 'days of vase life')
GROUP BY s.plot, l.level
ORDER BY s.plot;
