-- Answers: on which ground, whichever stake stood there, was each picking day of the trial?
-- One row per plot and picking day; code = the plot that it was recorded under.
-- Parameters: $trial (NULL = every trial).
SELECT coalesce(k.plot, c.plot) AS plot, c.plot AS code, c.cut_on, c.outcome
FROM cut AS c
JOIN plot AS p ON p.plot = c.plot
LEFT JOIN (/* stakes */) AS k
    ON k.stake = c.plot AND c.cut_on >= k.from_day
    AND (k.until_day IS NULL OR c.cut_on < k.until_day)
WHERE $trial IS NULL OR p.trial = $trial;
