-- Answers: in which units does the farm read its figures?
-- One row at most, none where nobody chose.
-- Parameters: none.
SELECT units FROM farm_setting;
