-- Does: stores new sites.
-- One row per site, from the frame "fresh" (the sheet of sites).
-- Parameters: none.
INSERT INTO site BY NAME SELECT site, place, bed_width_m, note FROM fresh;
