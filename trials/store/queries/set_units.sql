-- Does: sets the units in which the farm reads its figures.
-- One row.
-- Parameters: $units (metric or us).
INSERT OR REPLACE INTO farm_setting VALUES (true, $units);
