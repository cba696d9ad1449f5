-- Answers: which lots of seed are there, of which variety and year, and how well do they germinate?
-- One row per lot.
-- Parameters: none.
SELECT l.lot, i.variety, l.packed_for, l.germination, coalesce(i.sold_as, 'seed') AS sold_as, l.house,
       l.item
FROM seed_lot AS l
JOIN seed_item AS i USING (house, item)
ORDER BY l.lot;
