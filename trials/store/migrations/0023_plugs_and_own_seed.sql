-- What an item is: seed, plugs (young plants), or seed that the farm saved itself; and what a price
-- list says of saving seed of its variety. Columns cannot be added with a rule: records check the words.

ALTER TABLE seed_item ADD COLUMN sold_as VARCHAR;
COMMENT ON COLUMN seed_item.seeds IS 'Seeds in one packet; of one sold by weight its grams times its seeds a gram, whole ones; of plugs the plants in one tray.';
COMMENT ON COLUMN seed_item.sold_as IS 'seed, plugs (young plants), or own seed (saved by the farm, its price is that of cleaning); empty = seed.';

ALTER TABLE seed_price ADD COLUMN seed_saving VARCHAR;
ALTER TABLE seed_price_was ADD COLUMN seed_saving VARCHAR;
COMMENT ON COLUMN seed_price.seed_saving IS 'Whether seed of the variety may be saved: allowed, protected (it may not be), or hybrid (its seedlings differ from it); empty = not known.';
COMMENT ON COLUMN seed_price_was.seed_saving IS 'As in seed_price.';
