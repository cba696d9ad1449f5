-- Answers: what did each plot earn and cost a metre of bed, at the newest prices and costs?
-- One row per plot; money in the farm's own currency, NULL where a part of it is not recorded.
-- Parameters: $trial, $shortest_cm (NULL = the trial's own shortest saleable length).
--
-- A stem is paid the price of the longest grade priced that it reaches, in the week (ISO) of its
-- cut; where several markets pay for it, the lowest: an extra stem is sold where it is paid least.
-- Stems below the shortest saleable length are worth nothing, but picked and paid for. A plant's
-- seed is the cheapest on offer in a currency with a rate, over the germination of its variety's
-- newest lot (0.8 assumed where it has none); plugs take the place of seed and of raising, by the price
-- list where it has no seed, or by their cost.
WITH
tally AS (/* tallied_days */),
newest_cost AS (/* newest_costs_of_trial */),
level AS (/* plot_levels */),
germinating AS (/* germination */),
offer AS (/* offers */),
here AS (
    SELECT p.plot, p.trial, t.crop, g.plants_set, g.net_length_m,
           round(coalesce($shortest_cm, t.minimum_length_cm)) AS shortest_grade_cm
    FROM plot AS p
    JOIN trial AS t USING (trial)
    JOIN planting AS g USING (plot)
    WHERE p.trial = $trial
),
price AS (
    SELECT market, grade_cm, from_week, to_week, stem_price
    FROM market_price AS p
    SEMI JOIN here USING (crop)
    QUALIFY year = max(year) OVER (PARTITION BY market)
),
line AS (  -- one row per picked plot, day and grade or reason
    SELECT c.plot, week(c.cut_on) AS week, l.grade_cm, coalesce(l.stems, 0) AS stems,
           coalesce(l.grade_cm >= h.shortest_grade_cm, false) AS saleable
    FROM tally AS c
    JOIN here AS h USING (plot)
    LEFT JOIN (/* cut_lines */) AS l ON l.plot = c.code AND l.cut_on = c.cut_on
    WHERE c.outcome = 'picked'
),
paid AS (
    SELECT week, grade_cm, min(stem_price) AS stem_price
    FROM (
        SELECT f.week, f.grade_cm, p.market, arg_max(p.stem_price, p.grade_cm) AS stem_price
        FROM (SELECT DISTINCT week, grade_cm FROM line WHERE saleable) AS f
        JOIN price AS p ON p.grade_cm <= f.grade_cm AND f.week BETWEEN p.from_week AND p.to_week
        GROUP BY f.week, f.grade_cm, p.market
    )
    GROUP BY week, grade_cm
),
least AS (  -- what the shortest grade that is sold brings in each week
    SELECT week, arg_min(stem_price, grade_cm) AS stem_price FROM paid GROUP BY week
),
earned AS (
    SELECT l.plot, sum(l.stems) AS cut_stems,
           sum(l.stems * (p.stem_price - b.stem_price) ORDER BY l.week, l.grade_cm)
               FILTER (l.saleable) AS premium,
           CASE WHEN bool_and(p.stem_price IS NOT NULL OR NOT l.saleable OR l.stems = 0)
                     AND EXISTS (FROM price)
                THEN coalesce(
                    sum(l.stems * p.stem_price ORDER BY l.week, l.grade_cm) FILTER (l.saleable), 0)
           END AS gross
    FROM line AS l
    LEFT JOIN paid AS p ON l.saleable AND p.week = l.week AND p.grade_cm = l.grade_cm
    LEFT JOIN least AS b ON b.week = l.week
    GROUP BY l.plot
),
treated AS (
    SELECT plot,
           bool_or(what = 'pinched') AS pinched,
           bool_or(what = 'netted') AS netted
    FROM (
        SELECT h.plot, e.kind AS what
        FROM here AS h
        JOIN event AS e ON e.trial = h.trial AND (e.plot = h.plot OR e.plot IS NULL)
        UNION ALL
        SELECT plot, level FROM level
    )
    GROUP BY plot
),
each AS (
    SELECT max(amount) FILTER (cost = 'bed') AS bed,
           max(amount) FILTER (cost = 'plug') AS plug,
           coalesce(max(amount) FILTER (cost = 'raising'), 0) AS raising,
           max(amount) FILTER (cost = 'planting') AS planting,
           max(amount) FILTER (cost = 'pinching') AS pinching,
           max(amount) FILTER (cost = 'netting material')
               + max(amount) FILTER (cost = 'netting labour') AS netting,
           max(amount) FILTER (cost = 'picking') AS picking
    FROM newest_cost
),
seed AS (  -- of one plant
    SELECT l.plot,
           min(o.seed_price)
               / CASE WHEN any_value(o.sold_as) = 'plugs' THEN 1
                      ELSE coalesce(any_value(m.germination), 0.8) END AS seed,
           any_value(o.sold_as) = 'plugs' AS plugs
    FROM level AS l
    JOIN offer AS o ON o.variety = l.level
    LEFT JOIN germinating AS m ON m.variety = l.level
    WHERE l.factor = 'variety'
    GROUP BY l.plot
),
costed AS (
    SELECT h.plot, e.gross / h.net_length_m AS gross_per_metre,
           coalesce(e.premium, 0) / h.net_length_m AS premium_per_metre,
           coalesce(c.plug, s.seed) * h.plants_set / h.net_length_m AS seed_per_metre,
           c.bed
               + (CASE WHEN c.plug IS NOT NULL OR s.plugs THEN 0 ELSE c.raising END
                  + c.planting + CASE WHEN t.pinched THEN c.pinching ELSE 0 END)
                   * h.plants_set / h.net_length_m
               + CASE WHEN t.netted THEN c.netting ELSE 0 END
               + c.picking * e.cut_stems / h.net_length_m AS growing_per_metre
    FROM here AS h
    CROSS JOIN each AS c
    JOIN earned AS e USING (plot)
    LEFT JOIN treated AS t USING (plot)
    LEFT JOIN seed AS s USING (plot)
    ANTI JOIN (SELECT trial, plot FROM event WHERE kind = 'lost') AS x
        ON x.trial = h.trial AND (x.plot = h.plot OR x.plot IS NULL)
)
SELECT plot, gross_per_metre, premium_per_metre, seed_per_metre,
       gross_per_metre - growing_per_metre - seed_per_metre AS net_per_metre
FROM costed
ORDER BY plot;
