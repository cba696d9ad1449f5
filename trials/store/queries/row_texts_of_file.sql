-- Answers: what does a Parquet file hold, in a form that any program can make again?
-- One row per row of the file: the row as a JSON object, in the order of its bytes.
-- Parameters: $file, its path.
SELECT CAST(to_json(held) AS VARCHAR) AS line
FROM read_parquet($file) AS held
ORDER BY line;
