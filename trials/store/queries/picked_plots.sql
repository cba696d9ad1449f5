-- Answers: which plots of the trial were ever picked?
-- One row per plot.
-- Parameters: $trial.
WITH
stake AS (/* stakes */),
tally AS (  -- picking days by the ground they were picked on, whichever stake stood there
    SELECT coalesce(k.plot, c.plot) AS plot, c.plot AS code, c.cut_on, c.outcome
    FROM cut AS c
    JOIN plot AS p ON p.plot = c.plot
    LEFT JOIN stake AS k
        ON k.stake = c.plot AND c.cut_on >= k.from_day
        AND (k.until_day IS NULL OR c.cut_on < k.until_day)
    WHERE p.trial = $trial
)
SELECT DISTINCT plot
FROM tally
WHERE outcome = 'picked'
ORDER BY plot;
