-- Does: stores new scores.
-- One row per plot, day and trait, from the frame "fresh" (the sheet of scores, and the entry).
-- Parameters: none.
INSERT INTO score BY NAME SELECT plot, scored_on, trait, value, entry FROM fresh;
