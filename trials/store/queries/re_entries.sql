-- Answers: which sprays with a re-entry time may keep a plot closed about a day?
-- One row per plot and spray; the plot goes by the code of the stake that stands in it that day.
-- Parameters: $day.
-- Where stakes were swapped, a spray of either code closes the plot.
WITH stake AS (
    SELECT plot, stake
    FROM (/* stakes */)
    WHERE from_day <= $day AND (until_day IS NULL OR $day < until_day)
)
SELECT coalesce(i.stake, p.plot) AS plot, e.product, e.happened_on, e.sprayed_at, e.re_entry_hours
FROM plot AS p
LEFT JOIN stake AS i USING (plot)
JOIN event AS e ON e.trial = p.trial AND (e.plot IS NULL OR e.plot = p.plot OR e.plot = i.stake)
WHERE e.kind = 'sprayed' AND e.re_entry_hours IS NOT NULL
  AND e.happened_on BETWEEN $day - 100 AND $day + 100
ORDER BY ALL;
