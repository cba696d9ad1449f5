-- Answers: what did each plot of the trial yield, in every measure?
-- One row per plot, in the order in which one walks the beds (the factors: plot_levels).
-- Parameters: $trial (NULL = every trial, one after another), $shortest_cm (NULL = the trial's own
-- shortest saleable length).
--
-- NULL = not recorded, 0 = looked for and none found. A lost plot has no totals and no measures.
-- Picking day: a day on which any plot of the trial was picked. A graded stem is marketable where
-- its grade (the shortest length of its stems) reaches the shortest saleable length, and short
-- where it does not (whole cm, as grades are: trials.saleable); a culled stem has a reason. Culls are 'not recorded' where the whole trial
-- never tallied any.
-- Fractions are added up in a stated order: rows lie in none, and the last digit must not vary.
-- Plots that got each other's plants: see plot_levels. What was recorded while two stakes stood in
-- each other's plots counts where it was seen.
WITH
planted AS (/* planted_days */),
exchange AS (/* exchanges */),
stake AS (/* stakes */),
tally AS (/* tallied_days */),
here AS (
    SELECT p.plot, p.trial, p.block, p.bed, p.position, w.whole_plot,
           round(coalesce($shortest_cm, t.minimum_length_cm)) AS shortest_grade_cm,
           g.plants_set, g.net_length_m, g.net_area_m2, d.transplanted_on
    FROM plot AS p
    JOIN trial AS t USING (trial)
    JOIN planting AS g USING (plot)
    LEFT JOIN planted AS d USING (plot)
    LEFT JOIN whole_plot AS w ON w.trial = p.trial AND w.number = p.whole_plot_number
    WHERE $trial IS NULL OR p.trial = $trial
),
lost AS (  -- the first loss counts; one without a plot struck the whole trial
    SELECT h.plot, arg_min(e.reason, e.happened_on) AS lost_reason
    FROM here AS h
    JOIN event AS e ON e.trial = h.trial AND (e.plot = h.plot OR e.plot IS NULL)
    WHERE e.kind = 'lost'
    GROUP BY h.plot
),
day AS (  -- one row per plot and day that was picked
    SELECT h.trial, c.plot, c.cut_on,
           coalesce(sum(l.stems) FILTER (l.grade_cm >= h.shortest_grade_cm), 0) AS marketable,
           coalesce(sum(l.stems) FILTER (l.grade_cm < h.shortest_grade_cm), 0) AS short,
           coalesce(sum(l.stems) FILTER (l.cull_reason IS NOT NULL), 0) AS culled,
           count(l.cull_reason) AS cull_lines
    FROM tally AS c
    JOIN here AS h USING (plot)
    LEFT JOIN (/* cut_lines */) AS l ON l.plot = c.code AND l.cut_on = c.cut_on
    WHERE c.outcome = 'picked'
    GROUP BY h.trial, c.plot, c.cut_on
),
total AS (  -- one row per plot that was ever picked
    SELECT plot,
           sum(marketable) AS marketable, sum(short) AS short, sum(culled) AS culled,
           sum(sum(cull_lines)) OVER (PARTITION BY trial) > 0 AS culls_were_tallied,
           min(cut_on) AS first_pick,
           min(cut_on) FILTER (marketable > 0) AS first_cut,
           max(cut_on) FILTER (marketable > 0) AS last_cut
    FROM day
    GROUP BY trial, plot
),
picking AS (  -- one row per plot with any row of cuts
    SELECT h.trial, c.plot, count(*) FILTER (c.outcome = 'missed') AS missed_picks,
           min(c.cut_on) AS first_row, max(c.cut_on) AS last_row
    FROM tally AS c
    JOIN here AS h USING (plot)
    GROUP BY h.trial, c.plot
),
blank AS (  -- picking days between a plot's own first and last row on which it has none
    SELECT p.plot, count(*) AS unrecorded_picks
    FROM picking AS p
    JOIN (SELECT DISTINCT trial, cut_on FROM day) AS d
        ON d.trial = p.trial AND d.cut_on BETWEEN p.first_row AND p.last_row
    ANTI JOIN tally AS c ON c.plot = p.plot AND c.cut_on = d.cut_on
    GROUP BY p.plot
),
standing AS (
    SELECT coalesce(k.plot, s.plot) AS plot, s.counted_on, s.living
    FROM stand_count AS s
    JOIN plot AS p ON p.plot = s.plot
    LEFT JOIN stake AS k
        ON k.stake = s.plot AND s.counted_on >= k.from_day
        AND (k.until_day IS NULL OR s.counted_on < k.until_day)
    WHERE $trial IS NULL OR p.trial = $trial
),
stand AS (  -- the latest count up to the first cut; else the earliest count
    SELECT s.plot,
           coalesce(
               arg_max(s.living, s.counted_on)
                   FILTER (s.counted_on <= coalesce(t.first_cut, t.first_pick)),
               arg_min(s.living, s.counted_on)
           ) AS living
    FROM standing AS s
    LEFT JOIN total AS t USING (plot)
    GROUP BY s.plot
),
-- Fractions are added up in a fixed order: the same records give the same figure to the last digit.
sample AS (  -- one row per plot and day with measured stems
    SELECT c.plot, c.cut_on, avg(s.length_cm ORDER BY s.stem) AS mean_cm
    FROM stem_sample AS s
    JOIN tally AS c ON c.code = s.plot AND c.cut_on = s.cut_on
    GROUP BY c.plot, c.cut_on
),
length AS (  -- each day's mean counts as often as stems were graded that day, short ones too
    SELECT s.plot,
           sum((d.marketable + d.short) * s.mean_cm ORDER BY s.cut_on)
               / nullif(sum(d.marketable + d.short), 0) AS stem_length_cm
    FROM sample AS s
    JOIN day AS d USING (plot, cut_on)
    GROUP BY s.plot
),
figures AS (
    SELECT h.*, x.plants_of, k.stake_of, l.lost_reason, s.living, t.first_cut, t.last_cut,
           coalesce(p.missed_picks, 0) AS missed_picks,
           coalesce(b.unrecorded_picks, 0) AS unrecorded_picks,
           CAST(CASE WHEN l.plot IS NULL THEN t.marketable END AS DOUBLE) AS marketable_stems,
           CAST(CASE WHEN l.plot IS NULL AND t.culls_were_tallied THEN t.culled END AS DOUBLE)
               AS culled_stems,
           CAST(CASE WHEN l.plot IS NULL THEN t.short END AS DOUBLE) AS short_stems,
           CASE WHEN l.plot IS NULL THEN g.stem_length_cm END AS stem_length_cm,
           CAST(CASE WHEN l.plot IS NULL THEN date_diff('day', h.transplanted_on, t.first_cut) END
               AS DOUBLE) AS days_to_first_cut
    FROM here AS h
    LEFT JOIN lost AS l USING (plot)
    LEFT JOIN total AS t USING (plot)
    LEFT JOIN picking AS p USING (plot)
    LEFT JOIN blank AS b USING (plot)
    LEFT JOIN stand AS s USING (plot)
    LEFT JOIN length AS g USING (plot)
    LEFT JOIN exchange AS x USING (plot)
    LEFT JOIN (SELECT plot, min(stake) AS stake_of FROM stake GROUP BY plot) AS k USING (plot)
)
SELECT plot, block, whole_plot, bed, position,
       plants_set, CAST(living AS DOUBLE) AS living, net_length_m, net_area_m2, transplanted_on,
       lost_reason, missed_picks, unrecorded_picks, marketable_stems, short_stems, culled_stems,
       first_cut, last_cut,
       marketable_stems / nullif(living, 0) AS stems_per_plant,
       marketable_stems / plants_set AS stems_per_plant_set,
       marketable_stems / net_length_m AS stems_per_metre,
       stem_length_cm,
       marketable_stems / nullif(marketable_stems + short_stems, 0) AS saleable_length_share,
       marketable_stems / nullif(marketable_stems + short_stems + culled_stems, 0)
           AS marketable_share,
       days_to_first_cut,
       -- Whose plants stood here, and whose stake did for a time; NULL = its own throughout.
       plants_of, stake_of
FROM figures
-- Beds by the number in their name, so that Bed 2 comes before Bed 10.
ORDER BY trial, regexp_replace(bed, '\d.*$', ''), try_cast(regexp_extract(bed, '\d+') AS BIGINT) NULLS FIRST,
         bed, position, plot;
