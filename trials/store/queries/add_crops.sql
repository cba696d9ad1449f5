-- Does: stores new figures of crops.
-- One row per crop and figure, from the frame "fresh" (the sheet of crops, and the entry).
-- Parameters: none.
INSERT INTO crop_figure BY NAME SELECT crop, figure, value, source, entry FROM fresh;
