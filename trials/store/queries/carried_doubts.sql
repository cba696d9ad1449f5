-- Answers: which unlikely records did these entries (the frame "named", with their sheets) take in?
-- One row per record and doubt.
-- Parameters: none.
SELECT entry, sheet, column_name, doubt, reason
FROM accepted
SEMI JOIN named USING (entry, sheet)
ORDER BY ALL;
