-- Answers: under which code does each plot leave the farm?
-- One row per plot of a trial in the frame "coded_trial" (trial, code).
-- Parameters: none.
SELECT p.plot, c.code || '-' || row_number() OVER (
           PARTITION BY p.trial ORDER BY p.bed, p.position, p.plot
       ) AS code
FROM plot AS p
JOIN coded_trial AS c USING (trial);
