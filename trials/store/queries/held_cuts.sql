-- Answers: which cuts are held?
-- One row per plot, day and grade or reason for culling, in the columns of the sheet of cuts;
-- a missed day is one row without stems.
-- Parameters: none.
SELECT c.plot, c.cut_on, c.outcome, l.grade_cm, l.stems, l.cull_reason
FROM cut AS c
LEFT JOIN (/* cut_lines */) AS l USING (plot, cut_on)
ORDER BY c.plot, c.cut_on, l.grade_cm, l.cull_reason;
