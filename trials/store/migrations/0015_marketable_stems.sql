-- Marketable means long enough to sell. Until here every graded stem counted as marketable; from here
-- on only stems of grades that reach the trial's shortest saleable length do. No record changes, and
-- so no digest does: the history says from when figures are read in another way, and for which trials.

INSERT INTO entry (number, recorded_at, what, why)
WITH
graded AS (
    SELECT p.trial, unnest(map_keys(c.stems_by_grade)) AS grade_cm,
           unnest(map_values(c.stems_by_grade)) AS stems
    FROM cut AS c
    JOIN plot AS p USING (plot)
),
moved AS (
    SELECT DISTINCT trial
    FROM graded
    JOIN trial AS t USING (trial)
    WHERE graded.grade_cm < round(t.shortest_length_cm) AND graded.stems > 0
)
SELECT max(number) + 1, greatest(now() AT TIME ZONE 'UTC', max(recorded_at)), 'new meaning',
       'Marketable stems are now only those of grades that reach the trial''s shortest saleable '
       || 'length. Before, shorter graded stems counted too. No record was changed. '
       || coalesce(
              (SELECT 'Figures change for: ' || string_agg(trial, ', ' ORDER BY trial) || '.' FROM moved),
              'No trial had shorter stems, so no figure changes.'
          )
FROM entry
HAVING count(*) > 0;

COMMENT ON COLUMN entry.what IS 'What it was: load, tally, correction, withdrawal, undo, plan, closing, before history, new meaning (no record changed, but figures are calculated in another way).';
COMMENT ON COLUMN trial.shortest_length_cm IS 'The shortest stem that can be sold (cm): graded stems are marketable from this length on.';
COMMENT ON COLUMN cut.stems_by_grade IS 'Stems that were not culled, by length grade, which is the shortest length of its stems (cm).';
COMMENT ON COLUMN cut.none_marketable IS 'Whether it was written down that there was no stem to grade: a 0 without a grade.';
