-- Does: stores what was planted.
-- One row per plot, from the frame "fresh" (the sheet of plots, and the entry).
-- Parameters: none.
INSERT INTO planting BY NAME
SELECT plot, lot, plants_set, net_length_m, net_area_m2, transplanted_on, entry FROM fresh;
