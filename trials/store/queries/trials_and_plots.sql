-- Answers: what are the trials and plots called?
-- One row per trial, then one per plot: its name and what it is.
-- Parameters: none.
SELECT trial, 'trial' AS kind FROM trial
UNION ALL
SELECT plot, 'plot' FROM plot
ORDER BY ALL;
