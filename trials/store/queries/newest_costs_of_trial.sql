-- Answers: what does growing the trial's crop cost?
-- One row per kind of cost: the crop's own newest, else the newest of every crop.
-- Parameters: $trial.
SELECT c.cost, c.amount
FROM cost AS c
JOIN trial AS t ON t.trial = $trial AND c.crop IN (t.crop, 'every crop')
QUALIFY row_number() OVER (PARTITION BY c.cost ORDER BY c.crop = t.crop DESC, c.year DESC) = 1;
