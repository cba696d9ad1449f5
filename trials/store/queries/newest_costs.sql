-- Answers: what does growing this crop cost?
-- One row per kind of cost: the crop's own newest, else the newest of every crop.
-- Parameters: $crop.
SELECT year, crop, cost, amount
FROM cost
WHERE crop IN ($crop, 'every crop')
QUALIFY row_number() OVER (PARTITION BY cost ORDER BY crop = $crop DESC, year DESC) = 1
ORDER BY cost;
