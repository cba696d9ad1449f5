-- Answers: which rows lack what they rest on, where no key of the database can see to it?
-- One row per sheet, plot, day and kind of loose end; the day is NULL where it has none.
-- Parameters: $entry, to look only at the rows it brought (NULL = at all).
SELECT DISTINCT 'stem_samples' AS sheet, s.plot, s.cut_on AS day,
       'has measured stems, but the plot was not picked' AS problem
FROM stem_sample AS s
ANTI JOIN (SELECT plot, cut_on FROM cut WHERE outcome = 'picked') AS c USING (plot, cut_on)
WHERE $entry IS NULL OR s.entry = $entry
UNION ALL
SELECT 'stand_counts', s.plot, s.counted_on, 'has more plants alive than were set out'
FROM stand_count AS s
JOIN planting AS g USING (plot)
WHERE s.living > g.plants_set
  AND NOT EXISTS (SELECT 1 FROM accepted AS a WHERE a.entry = s.entry AND a.sheet = 'stand_counts')
  AND ($entry IS NULL OR s.entry = $entry)
UNION ALL
SELECT 'plots', p.plot, NULL, 'has no planting'
FROM plot AS p
ANTI JOIN planting AS g USING (plot)
WHERE $entry IS NULL
ORDER BY ALL;
