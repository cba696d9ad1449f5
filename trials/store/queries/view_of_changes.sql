-- Does: makes the comings and goings of all tables one view, for this cursor alone.
-- One row per row of any table and coming or going.
-- Parameters: none; {parts} is filled in.
CREATE OR REPLACE TEMP VIEW change AS {parts};
