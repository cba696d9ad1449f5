-- Answers: which picking days has a trial, or had once?
-- One row per row of the sheet of cuts, each time its day came or changed; a day's rows come and go
-- together.
-- Parameters: $trial.
WITH
day AS (
    SELECT plot, cut_on, outcome, entry, CAST(NULL AS INTEGER) AS superseded_by FROM cut
    UNION ALL
    SELECT plot, cut_on, outcome, entry, superseded_by FROM cut_was
),
line AS (
    SELECT plot, cut_on, grade_cm, stems, cull_reason, entry FROM (/* cut_lines */)
    UNION ALL
    SELECT plot, cut_on, grade_cm, stems, cull_reason, entry FROM (/* cut_lines_was */)
)
SELECT d.plot, d.cut_on, d.outcome, l.grade_cm, l.stems, l.cull_reason, d.entry, d.superseded_by
FROM day AS d
SEMI JOIN (SELECT plot FROM plot WHERE trial = $trial) AS own USING (plot)
LEFT JOIN line AS l USING (plot, cut_on, entry)
ORDER BY d.entry, d.plot, d.cut_on, l.grade_cm, l.cull_reason;
