-- A hive or a colony may have a hundred thousand records, of which few tell where
-- the colony lives: these are found without reading the others.

CREATE INDEX record_hive_kind ON record (hive, kind, instant);
CREATE INDEX record_colony_kind ON record (colony, kind, instant);
