-- Answers: which plots are tallied on a day, and what is done of them?
-- One row per plot of an open trial that was planted by then, in walking order.
-- Parameters: $day.
-- A plot goes by the code of the stake that stands in it that day, and grows what it was planted with.
WITH
planted AS (/* planted_days */),
exchange AS (/* exchanges */),
grown AS (
    SELECT CASE WHEN f.applied_to = 'plot' THEN coalesce(x.plants_of, l.plot) ELSE l.plot END AS plot,
           l.level, f.place
    FROM plot_level AS l
    JOIN factor AS f USING (trial, factor)
    LEFT JOIN exchange AS x USING (plot)
),
treatment AS (
    SELECT plot, string_agg(level, ' · ' ORDER BY place) AS treatment FROM grown GROUP BY plot
),
stake AS (
    SELECT plot, stake
    FROM (/* stakes */)
    WHERE from_day <= $day AND (until_day IS NULL OR $day < until_day)
),
lost AS (
    SELECT p.plot, arg_min(e.reason, e.happened_on) AS lost_reason
    FROM plot AS p
    JOIN event AS e ON e.trial = p.trial AND (e.plot = p.plot OR e.plot IS NULL)
    WHERE e.kind = 'lost' AND e.happened_on <= $day
    GROUP BY p.plot
),
sprayed AS (
    SELECT p.plot, max(e.happened_on) AS sprayed_on
    FROM plot AS p
    JOIN event AS e ON e.trial = p.trial AND (e.plot = p.plot OR e.plot IS NULL)
    WHERE e.kind = 'sprayed' AND e.happened_on <= $day
    GROUP BY p.plot
),
line AS (
    SELECT plot,
           coalesce(sum(stems) FILTER (cull_reason IS NULL), 0) AS stems,
           coalesce(sum(stems) FILTER (cull_reason IS NOT NULL), 0) AS culls
    FROM (/* cut_lines */)
    WHERE cut_on = $day
    GROUP BY plot
)
SELECT p.trial, t.crop, t.minimum_length_cm, coalesce(i.stake, p.plot) AS plot, p.bed, p.position,
       w.treatment, s.lost_reason, c.outcome,
       CAST(CASE WHEN c.outcome = 'picked' THEN coalesce(l.stems, 0) END AS INTEGER) AS stems,
       CAST(CASE WHEN c.outcome = 'picked' THEN coalesce(l.culls, 0) END AS INTEGER) AS culls,
       y.sprayed_on
FROM plot AS p
JOIN trial AS t USING (trial)
JOIN planted AS g USING (plot)
ANTI JOIN closing AS k ON k.trial = p.trial
LEFT JOIN stake AS i USING (plot)
LEFT JOIN treatment AS w USING (plot)
LEFT JOIN lost AS s USING (plot)
LEFT JOIN cut AS c ON c.plot = coalesce(i.stake, p.plot) AND c.cut_on = $day
LEFT JOIN line AS l ON l.plot = coalesce(i.stake, p.plot)
LEFT JOIN sprayed AS y ON y.plot = coalesce(i.stake, p.plot)
WHERE g.transplanted_on <= $day AND t.season = (
    -- The season in which the day lies; there is one of it at each site.
    SELECT max(n.season)
    FROM season AS n
    WHERE n.site = t.site AND $day BETWEEN n.starts_on AND n.ends_on
)
-- Beds by the number in their name, so that Bed 2 comes before Bed 10.
ORDER BY p.trial, regexp_replace(p.bed, '\d.*$', ''),
         try_cast(regexp_extract(p.bed, '\d+') AS BIGINT) NULLS FIRST, p.bed, p.position, p.plot;
