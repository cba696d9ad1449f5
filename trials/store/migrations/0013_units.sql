-- The units a farm reads its figures in. It is a wish and no record: every figure is stored in
-- metric units whatever it says.

CREATE TABLE farm_setting (
    only_row BOOLEAN PRIMARY KEY CHECK (only_row),
    units    VARCHAR NOT NULL CHECK (units IN ('metric', 'us'))
);
COMMENT ON TABLE farm_setting IS 'What the farm chose for all its pages, sheets and commands; one row at most.';
COMMENT ON COLUMN farm_setting.only_row IS 'True: there is one row at most.';
COMMENT ON COLUMN farm_setting.units IS 'The units in which figures are shown: metric, or us (inches and feet).';
