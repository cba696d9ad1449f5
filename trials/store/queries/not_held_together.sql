-- Answers: of which rows in the frame "named" does {table} hold nothing?
-- One row per row of the frame.
-- Parameters: none.
SELECT DISTINCT {together} FROM named ANTI JOIN {table} USING ({together}) ORDER BY ALL;
