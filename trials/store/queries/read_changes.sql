-- Answers: which rows came and went by the entries of the frame "shown"?
-- One row per row and coming or going.
-- Parameters: $trial, $plot (NULL = any).
SELECT c.entry, c.record, c.went, c.place, c.figures
FROM change AS c
SEMI JOIN shown USING (entry)
WHERE ($trial IS NULL OR c.trial = $trial)
  AND ($plot IS NULL OR c.plot = $plot OR c.other_plot = $plot)
ORDER BY c.entry, c.record, c.place, c.went DESC;
