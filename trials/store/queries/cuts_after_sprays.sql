-- Answers: which cuts of a trial came on or after the day of a spray that set a re-entry time?
-- One row per picked day of a plot and spray; tallied_at is NULL unless the cut was tallied there.
-- Parameters: $trial (NULL = every trial).
SELECT c.plot, c.cut_on, CASE WHEN n.what = 'tally' THEN coalesce(n.tallied_at, n.recorded_at) END AS tallied_at,
       c.entry, e.product, e.happened_on, e.sprayed_at, e.re_entry_hours
FROM event AS e
JOIN plot AS p ON p.trial = e.trial AND (e.plot IS NULL OR e.plot = p.plot)
JOIN cut AS c ON c.plot = p.plot AND c.outcome = 'picked' AND c.cut_on >= e.happened_on
LEFT JOIN entry AS n ON n.number = c.entry
WHERE ($trial IS NULL OR e.trial = $trial) AND e.kind = 'sprayed' AND e.re_entry_hours IS NOT NULL
ORDER BY ALL;
