-- The trials that were laid out from a plan, the newest first.
SELECT trial
FROM plan
ORDER BY planned_at DESC, trial;
