-- Answers: which photos does the store have, and which did it ever have?
-- One row per photo: the digest of its file.
-- Parameters: none.
SELECT sha256 FROM photo
UNION
SELECT sha256 FROM photo_was
ORDER BY sha256;
