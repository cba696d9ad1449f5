-- Does: stores new stand counts.
-- One row per plot and day, from the frame "fresh" (the sheet of stand counts).
-- Parameters: none.
-- A plot that is not held finds no planting and fails for want of plants_set.
INSERT INTO stand_count BY NAME
SELECT f.plot, f.counted_on, f.living, g.plants_set
FROM fresh AS f
LEFT JOIN planting AS g USING (plot);
