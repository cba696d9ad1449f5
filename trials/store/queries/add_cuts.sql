-- Does: stores new picking days and their stems.
-- One row per plot and day, then one per grade or reason for culling, from the frame "fresh" (the
-- sheet of cuts, and the entry).
-- Parameters: none.
-- A day held with the other outcome differs in the anti join and fails on its key.
INSERT INTO cut BY NAME
SELECT DISTINCT plot, cut_on, outcome, entry
FROM fresh
ANTI JOIN cut USING (plot, cut_on, outcome);

INSERT INTO cut_line BY NAME
SELECT plot, cut_on, grade_cm, cull_reason, stems, entry
FROM fresh
WHERE outcome = 'picked' OR stems IS NOT NULL OR grade_cm IS NOT NULL OR cull_reason IS NOT NULL
-- In the order of the key, in which its index takes them fastest.
ORDER BY plot, cut_on, grade_cm, cull_reason;
