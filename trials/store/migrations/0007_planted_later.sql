-- A trial is laid out before it is planted: the day of planting out may come later, as an event.

ALTER TABLE planting ALTER COLUMN transplanted_on DROP NOT NULL;
COMMENT ON COLUMN planting.plants_set IS 'Plants set out, or to be set out.';
COMMENT ON COLUMN planting.transplanted_on IS 'Day of planting out; empty = not yet, or recorded as an event.';
COMMENT ON COLUMN event.kind IS 'What it was; a lost plot has no measures; plants swapped exchanges what two plots were given, labels swapped the codes under which they are recorded from that day on.';
