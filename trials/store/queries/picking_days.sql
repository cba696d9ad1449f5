-- Answers: on how many days was the trial picked, and from when to when?
-- One row; last_row also counts days on which every plot was missed.
-- Parameters: $trial.
SELECT count(DISTINCT c.cut_on) FILTER (c.outcome = 'picked') AS picking_days,
       min(c.cut_on) FILTER (c.outcome = 'picked') AS first_cut,
       max(c.cut_on) FILTER (c.outcome = 'picked') AS last_cut,
       max(c.cut_on) AS last_row
FROM cut AS c
JOIN plot AS p USING (plot)
WHERE p.trial = $trial;
