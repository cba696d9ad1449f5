-- Answers: which picking days among those of the frame "named" have nothing left to stand for?
-- One row per row of cut: its rowid. A picked day goes with its last stems, a missed one by itself.
-- Parameters: none.
SELECT c.rowid AS row
FROM cut AS c
SEMI JOIN named USING (plot, cut_on)
ANTI JOIN cut_line AS l USING (plot, cut_on);
