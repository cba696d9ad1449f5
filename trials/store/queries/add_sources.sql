-- Does: notes which files were read.
-- One row per file and sheet that was not read before, from the frame "fresh" (sha256, sheet, file,
-- rows, entry).
-- Parameters: $loaded_at (UTC).
INSERT INTO source BY NAME
SELECT sha256, sheet, min(file) AS file, max(rows) AS rows, min(entry) AS entry, $loaded_at AS loaded_at
FROM fresh
ANTI JOIN source USING (sha256, sheet)
GROUP BY sha256, sheet;
