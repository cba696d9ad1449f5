-- Does: stores what a photo shows.
-- One row.
-- Parameters: $sha256, $variety, $plot, $taken_on, $caption, $entry.
INSERT INTO photo (sha256, variety, plot, taken_on, caption, entry)
VALUES ($sha256, $variety, $plot, $taken_on, $caption, $entry);
