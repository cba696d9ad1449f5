-- Does: makes the stems of picking days views with a row each, as they are and were, for this cursor.
-- One row per plot, day and grade or reason for culling.
-- Parameters: none.
CREATE OR REPLACE TEMP VIEW cut_line AS (/* cut_lines */);
CREATE OR REPLACE TEMP VIEW cut_line_was AS (/* cut_lines_was */);
