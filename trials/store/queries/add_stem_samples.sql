-- Does: stores new measured stems.
-- One row per plot, day and stem, from the frame "fresh" (the sheet of stem samples, and the entry).
-- Parameters: none.
INSERT INTO stem_sample BY NAME SELECT plot, cut_on, stem, length_cm, entry FROM fresh;
