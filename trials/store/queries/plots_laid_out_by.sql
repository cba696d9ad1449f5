-- Answers: did an entry lay plots out, rather than put right what was known of them?
-- One row per plot.
-- Parameters: $entry.
WITH first AS (
    SELECT plot, min(entry) AS entry FROM (SELECT plot, entry FROM planting UNION ALL SELECT plot, entry FROM planting_was)
    GROUP BY plot
)
SELECT plot FROM first WHERE entry = $entry ORDER BY plot;
