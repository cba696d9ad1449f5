-- Does: stores new picking days.
-- One row per plot and day, from the frame "fresh" (the rows of the sheet of cuts folded into days,
-- and the entry).
-- Parameters: none.
INSERT INTO cut BY NAME
FROM fresh;
