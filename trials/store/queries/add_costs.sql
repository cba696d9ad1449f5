-- Does: stores new costs.
-- One row per year, crop and kind of cost, from the frame "fresh" (the sheet of costs, and the
-- entry).
-- Parameters: none.
INSERT INTO cost BY NAME SELECT year, crop, cost, amount, entry FROM fresh;
