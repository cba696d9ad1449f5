-- Does: stores new plots with their blocks, whole plots and smaller units (add_plantings: what grows
-- there).
-- One row per block, whole plot, plot, and place where the layout has rows, columns or smaller units,
-- from the frame "fresh" (the fixed columns of the sheet of plots).
-- Parameters: none.
INSERT INTO block BY NAME
SELECT DISTINCT trial, block
FROM fresh
ANTI JOIN block USING (trial, block)
WHERE block IS NOT NULL;

INSERT INTO whole_plot BY NAME
WITH unknown AS (
    SELECT DISTINCT f.trial, f.block, f.whole_plot
    FROM fresh AS f
    ANTI JOIN whole_plot AS w
        ON w.trial = f.trial
        AND w.block IS NOT DISTINCT FROM f.block
        AND w.whole_plot = f.whole_plot
    WHERE f.whole_plot IS NOT NULL
),
highest AS (SELECT trial, max(number) AS number FROM whole_plot GROUP BY trial)
SELECT u.trial, u.block, u.whole_plot,
       coalesce(h.number, 0)
           + row_number() OVER (PARTITION BY u.trial ORDER BY u.block, u.whole_plot) AS number
FROM unknown AS u
LEFT JOIN highest AS h USING (trial);

INSERT INTO plot BY NAME
SELECT f.plot, f.trial, f.block, w.number AS whole_plot_number, f.bed, f.position
FROM fresh AS f
LEFT JOIN whole_plot AS w
    ON w.trial = f.trial
    AND w.block IS NOT DISTINCT FROM f.block
    AND w.whole_plot = f.whole_plot;

INSERT INTO plot_place BY NAME
SELECT plot, "row" AS row_label, "column" AS column_label, incomplete_block, split_plot
FROM fresh
WHERE coalesce("row", "column", incomplete_block, split_plot) IS NOT NULL;
