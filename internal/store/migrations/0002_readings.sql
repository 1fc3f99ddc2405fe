-- Loggers and scales. Readings are packed by sensor and month (see package
-- logger), what comes in live waits in reading_tail until it is packed too. Times
-- are seconds since 1970-01-01 UTC, months are counted from year 0: 12·year + month - 1.

CREATE TABLE sensor (
  id       INTEGER PRIMARY KEY,
  name     TEXT NOT NULL,
  quantity INTEGER NOT NULL, -- of package logger
  note     TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX sensor_name ON sensor (name COLLATE NOCASE, quantity);

-- Where a sensor hung from a time on.
CREATE TABLE placement (
  sensor   INTEGER NOT NULL REFERENCES sensor (id) ON DELETE CASCADE,
  since    INTEGER NOT NULL,
  hive     TEXT REFERENCES hive (id),
  place    TEXT NOT NULL, -- inside, outdoors, scale or away
  height_m REAL NOT NULL, -- above the hive's floor, inside only
  "column" TEXT NOT NULL, -- core, flank or beyond, inside only
  note     TEXT NOT NULL,
  PRIMARY KEY (sensor, since)
) STRICT, WITHOUT ROWID;
CREATE INDEX placement_hive ON placement (hive) WHERE hive IS NOT NULL;

CREATE TABLE reading_block (
  sensor INTEGER NOT NULL REFERENCES sensor (id) ON DELETE CASCADE,
  month  INTEGER NOT NULL,
  count  INTEGER NOT NULL,
  first  INTEGER NOT NULL,
  last   INTEGER NOT NULL,
  bytes  BLOB NOT NULL
) STRICT;
CREATE UNIQUE INDEX reading_block_place ON reading_block (sensor, month);

-- Means, least and most by the hour, for views of years.
CREATE TABLE hour_block (
  sensor INTEGER NOT NULL REFERENCES sensor (id) ON DELETE CASCADE,
  month  INTEGER NOT NULL,
  bytes  BLOB NOT NULL
) STRICT;
CREATE UNIQUE INDEX hour_block_place ON hour_block (sensor, month);

CREATE TABLE reading_tail (
  sensor INTEGER NOT NULL REFERENCES sensor (id) ON DELETE CASCADE,
  at     INTEGER NOT NULL,
  value  REAL NOT NULL,
  PRIMARY KEY (sensor, at)
) STRICT, WITHOUT ROWID;

-- Column maps of loggers' files, by the name the keeper gave them.
CREATE TABLE logger_map (
  name    TEXT PRIMARY KEY COLLATE NOCASE,
  text    TEXT NOT NULL,
  changed TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- What was taken in, for the keeper's eyes.
CREATE TABLE logger_file (
  id      INTEGER PRIMARY KEY,
  name    TEXT NOT NULL,
  taken   TEXT NOT NULL,
  report  TEXT NOT NULL CHECK (json_valid(report))
) STRICT;
