-- Answers: how many rows came and went by each entry?
-- One row per entry and table.
-- Parameters: $trial, $plot (NULL = any).
SELECT entry, record, count(*) FILTER (NOT went) AS came, count(*) FILTER (went) AS gone
FROM change
WHERE ($trial IS NULL OR trial = $trial)
  AND ($plot IS NULL OR plot = $plot OR other_plot = $plot)
GROUP BY entry, record
ORDER BY entry, record;
