-- Answers: which migrations has this store had?
-- One row per migration, in order.
-- Parameters: none.
SELECT number, name, sha256 FROM migration ORDER BY number;
