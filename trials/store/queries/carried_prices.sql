-- Answers: what do the packets cost from which a trial's plots were sown, and what did they once?
-- One row per row that was ever held, in the columns of the sheet of seed items.
-- Parameters: $trial.
WITH
sown AS (
    SELECT plot, lot FROM planting
    UNION
    SELECT plot, lot FROM planting_was
),
packet AS (
    SELECT DISTINCT house, item
    FROM seed_lot
    SEMI JOIN (SELECT s.lot FROM sown AS s JOIN plot AS p USING (plot) WHERE p.trial = $trial)
        USING (lot)
),
price AS (
    SELECT *, CAST(NULL AS INTEGER) AS superseded_by FROM seed_price
    UNION ALL BY NAME
    FROM seed_price_was
)
SELECT house, item, price_year, from_packs, price, CASE WHEN available THEN 'yes' ELSE 'no' END AS available,
       seed_saving, entry, superseded_by
FROM price
SEMI JOIN packet USING (house, item)
ORDER BY entry, house, item, price_year, from_packs;
