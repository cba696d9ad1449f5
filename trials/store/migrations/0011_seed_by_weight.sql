-- Seed sold by weight: what a packet weighs, and how many seeds of that item a gram has.

ALTER TABLE seed_item ADD COLUMN grams DOUBLE;
ALTER TABLE seed_item ADD COLUMN seeds_per_gram DOUBLE;
COMMENT ON COLUMN seed_item.seeds IS 'Seeds in one packet; of one sold by weight its grams times its seeds a gram, whole ones.';
COMMENT ON COLUMN seed_item.grams IS 'What the seed of one packet weighs (g); empty = sold by number.';
COMMENT ON COLUMN seed_item.seeds_per_gram IS 'Seeds of this item in a gram; empty = not stated.';
