-- Does: stores what new plots were given.
-- One row per level, then one per plot and factor, from the frame "fresh" (trial, plot, factor,
-- level).
-- Parameters: none.
INSERT INTO level BY NAME
SELECT DISTINCT trial, factor, level
FROM fresh
ANTI JOIN level USING (trial, factor, level);

INSERT INTO plot_level BY NAME SELECT plot, trial, factor, level FROM fresh;
