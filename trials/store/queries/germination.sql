-- Answers: how well does the newest seed of each variety germinate?
-- One row per variety with a lot: that of the lot packed for the latest year, the poorest of several.
-- Lots that were bought come before the farm's own; plugs are no seed.
-- Parameters: none.
SELECT i.variety, arg_max(l.germination, (i.sold_as IS DISTINCT FROM 'own seed', l.packed_for, -l.germination))
           AS germination
FROM seed_lot AS l
JOIN seed_item AS i USING (house, item)
WHERE i.sold_as IS DISTINCT FROM 'plugs'
GROUP BY i.variety
ORDER BY i.variety;
