-- Answers: how long is a block of the file?
-- One row: bytes.
-- Parameters: none.
SELECT block_size FROM pragma_database_size() WHERE database_name = current_database();
