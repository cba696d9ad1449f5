-- A picking day at a plot is one row, with all its stems in it.
--
-- Until here its stems were rows of their own, and that they belonged to a day which was picked
-- could only be checked beside the tables. Now the row says it, and a grade or a reason cannot come
-- twice on a day, as a map takes a key once. Rows that were superseded are told day by day too: each
-- time a day or a row of its stems came or went, the day as it then was ended, and the next began.

CREATE TEMP TABLE day_then AS
SELECT plot, cut_on, outcome, entry, CAST(NULL AS INTEGER) AS superseded_by FROM cut
UNION ALL BY NAME
FROM cut_was;

CREATE TEMP TABLE line_then AS
SELECT plot, cut_on, grade_cm, cull_reason, stems, entry, CAST(NULL AS INTEGER) AS superseded_by
FROM cut_line
UNION ALL BY NAME
FROM cut_line_was;

CREATE TEMP TABLE whole_day_then AS
WITH
change AS (
    SELECT plot, cut_on, entry AS since FROM day_then
    UNION
    SELECT plot, cut_on, superseded_by FROM day_then WHERE superseded_by IS NOT NULL
    UNION
    SELECT plot, cut_on, entry FROM line_then
    UNION
    SELECT plot, cut_on, superseded_by FROM line_then WHERE superseded_by IS NOT NULL
),
span AS (
    SELECT plot, cut_on, since, lead(since) OVER (PARTITION BY plot, cut_on ORDER BY since) AS until
    FROM change
)
SELECT s.plot, s.cut_on, d.outcome,
       coalesce(map_from_entries(list({'key': l.grade_cm, 'value': l.stems} ORDER BY l.grade_cm)
                    FILTER (l.grade_cm IS NOT NULL)),
                CAST(MAP {} AS MAP(INTEGER, INTEGER))) AS stems_by_grade,
       coalesce(map_from_entries(list({'key': l.cull_reason, 'value': l.stems} ORDER BY l.cull_reason)
                    FILTER (l.cull_reason IS NOT NULL)),
                CAST(MAP {} AS MAP(VARCHAR, INTEGER))) AS culls_by_reason,
       coalesce(bool_or(l.stems = 0 AND l.grade_cm IS NULL AND l.cull_reason IS NULL), false)
           AS none_marketable,
       s.since AS entry, s.until AS superseded_by
FROM span AS s
JOIN day_then AS d
    ON d.plot = s.plot AND d.cut_on = s.cut_on
    AND d.entry <= s.since AND (d.superseded_by IS NULL OR d.superseded_by > s.since)
LEFT JOIN line_then AS l
    ON l.plot = s.plot AND l.cut_on = s.cut_on
    AND l.entry <= s.since AND (l.superseded_by IS NULL OR l.superseded_by > s.since)
GROUP BY s.plot, s.cut_on, d.outcome, s.since, s.until;

DROP TABLE day_then;
DROP TABLE line_then;
DROP TABLE cut_line;
DROP TABLE cut_line_was;
DROP TABLE cut;
DROP TABLE cut_was;

CREATE TABLE cut (
    plot            VARCHAR NOT NULL REFERENCES plot (plot),
    cut_on          DATE NOT NULL CHECK (cut_on BETWEEN DATE '1950-01-01' AND DATE '2199-12-31'),
    outcome         VARCHAR NOT NULL CHECK (outcome IN ('picked', 'missed')),
    stems_by_grade  MAP(INTEGER, INTEGER) NOT NULL,
    culls_by_reason MAP(VARCHAR, INTEGER) NOT NULL,
    none_marketable BOOLEAN NOT NULL,
    entry           INTEGER NOT NULL,
    PRIMARY KEY (plot, cut_on),
    -- Picked is said with stems or a 0; a missed day has neither.
    CHECK ((outcome = 'picked')
           = (none_marketable OR cardinality(stems_by_grade) + cardinality(culls_by_reason) > 0)),
    CHECK (list_count(map_values(stems_by_grade)) = cardinality(stems_by_grade)),
    CHECK (list_count(map_values(culls_by_reason)) = cardinality(culls_by_reason)),
    CHECK (list_min(map_keys(stems_by_grade)) >= 0),
    CHECK (list_max(map_keys(stems_by_grade)) < 500),
    CHECK (list_min(map_keys(culls_by_reason)) <> ''),
    CHECK (list_min(map_values(stems_by_grade)) >= 0),
    CHECK (list_min(map_values(culls_by_reason)) >= 0)
);
INSERT INTO cut BY NAME
SELECT * EXCLUDE superseded_by FROM whole_day_then WHERE superseded_by IS NULL
ORDER BY plot, cut_on;
COMMENT ON TABLE cut IS 'A picking day at a plot; one row a plot and day.';
COMMENT ON COLUMN cut.plot IS 'The plot.';
COMMENT ON COLUMN cut.cut_on IS 'The day.';
COMMENT ON COLUMN cut.outcome IS 'picked (perhaps with nothing to cut) or missed (nobody came by: its stems are unknown, not 0).';
COMMENT ON COLUMN cut.stems_by_grade IS 'Marketable stems of each length grade, which is the shortest length of its stems (cm).';
COMMENT ON COLUMN cut.culls_by_reason IS 'Stems that were thrown out, by the reason for culling.';
COMMENT ON COLUMN cut.none_marketable IS 'Whether it was written down that no stem was marketable: a 0 without a grade.';
COMMENT ON COLUMN cut.entry IS 'The entry that brought this row.';

CREATE TABLE cut_was AS FROM cut LIMIT 0;
ALTER TABLE cut_was ADD COLUMN superseded_by INTEGER;
INSERT INTO cut_was BY NAME
FROM whole_day_then WHERE superseded_by IS NOT NULL ORDER BY plot, cut_on, entry;
DROP TABLE whole_day_then;
COMMENT ON TABLE cut_was IS 'Picking days as they were recorded; one row each time one was superseded.';
COMMENT ON COLUMN cut_was.plot IS 'As in cut.';
COMMENT ON COLUMN cut_was.cut_on IS 'As in cut.';
COMMENT ON COLUMN cut_was.outcome IS 'As in cut.';
COMMENT ON COLUMN cut_was.stems_by_grade IS 'As in cut.';
COMMENT ON COLUMN cut_was.culls_by_reason IS 'As in cut.';
COMMENT ON COLUMN cut_was.none_marketable IS 'As in cut.';
COMMENT ON COLUMN cut_was.entry IS 'As in cut.';
COMMENT ON COLUMN cut_was.superseded_by IS 'The entry that superseded this row.';
