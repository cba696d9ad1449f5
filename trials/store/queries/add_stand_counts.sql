-- Does: stores new stand counts.
-- One row per plot and day, from the frame "fresh" (the sheet of stand counts, and the entry).
-- Parameters: none.
INSERT INTO stand_count BY NAME SELECT plot, counted_on, living, entry FROM fresh;
