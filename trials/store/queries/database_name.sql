-- Answers: by which name does the database know its file?
-- One row.
-- Parameters: none.
SELECT current_database();
