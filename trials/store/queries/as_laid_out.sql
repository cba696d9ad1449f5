-- Does: hides the plots, and the trials and levels with nothing but such plots, that were laid out
-- later; to be called after as_known, for this cursor alone.
-- One row per plot, level of a plot, level, and trial.
-- Parameters: none; {database} is filled in.
CREATE OR REPLACE TEMP VIEW plot AS
SELECT p.* FROM {database}.main.plot AS p SEMI JOIN planting USING (plot);

CREATE OR REPLACE TEMP VIEW plot_level AS
SELECT l.* FROM {database}.main.plot_level AS l SEMI JOIN planting USING (plot);

CREATE OR REPLACE TEMP VIEW level AS
SELECT l.*
FROM {database}.main.level AS l
SEMI JOIN plot_level USING (trial, factor, level);

CREATE OR REPLACE TEMP VIEW trial AS
SELECT t.*
FROM {database}.main.trial AS t
WHERE EXISTS (FROM plot AS p WHERE p.trial = t.trial)
   OR NOT EXISTS (FROM {database}.main.plot AS p WHERE p.trial = t.trial);
