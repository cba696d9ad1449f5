-- Answers: which sites are held?
-- One row per site, in the columns of the sheet of sites.
-- Parameters: none.
SELECT site, place, bed_width_m, note FROM site ORDER BY ALL;
