-- The notebook: what the keeper wrote down, every version of it, and what the
-- program keeps beside it. Times are RFC 3339 text; instants are seconds since
-- 1970-01-01 UTC, beside them for order.

CREATE TABLE yard (
  id            TEXT PRIMARY KEY,
  revision      INTEGER NOT NULL,
  changed       TEXT NOT NULL,
  deleted       INTEGER NOT NULL,
  name          TEXT NOT NULL,
  has_place     INTEGER NOT NULL,
  latitude_deg  REAL NOT NULL,
  longitude_deg REAL NOT NULL,
  height_m      REAL NOT NULL,
  weather       TEXT NOT NULL,
  note          TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX yard_name ON yard (name COLLATE NOCASE) WHERE deleted = 0;

CREATE TABLE hive (
  id           TEXT PRIMARY KEY,
  revision     INTEGER NOT NULL,
  changed      TEXT NOT NULL,
  deleted      INTEGER NOT NULL,
  yard         TEXT NOT NULL REFERENCES yard (id),
  name         TEXT NOT NULL,
  has_position INTEGER NOT NULL,
  x_m          REAL NOT NULL,
  y_m          REAL NOT NULL,
  note         TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX hive_name ON hive (yard, name COLLATE NOCASE) WHERE deleted = 0;

CREATE TABLE build (
  id         TEXT PRIMARY KEY,
  revision   INTEGER NOT NULL,
  changed    TEXT NOT NULL,
  deleted    INTEGER NOT NULL,
  hive       TEXT NOT NULL REFERENCES hive (id),
  from_day   TEXT NOT NULL,
  file       TEXT NOT NULL,
  note       TEXT NOT NULL
) STRICT;
CREATE INDEX build_hive ON build (hive, from_day);

CREATE TABLE colony (
  id          TEXT PRIMARY KEY,
  revision    INTEGER NOT NULL,
  changed     TEXT NOT NULL,
  deleted     INTEGER NOT NULL,
  name        TEXT NOT NULL,
  origin      TEXT NOT NULL,
  from_colony TEXT REFERENCES colony (id),
  note        TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX colony_name ON colony (name COLLATE NOCASE) WHERE deleted = 0;

CREATE TABLE plan (
  id       TEXT PRIMARY KEY,
  revision INTEGER NOT NULL,
  changed  TEXT NOT NULL,
  deleted  INTEGER NOT NULL,
  yard     TEXT NOT NULL REFERENCES yard (id),
  hive     TEXT REFERENCES hive (id),
  name     TEXT NOT NULL,
  changes  TEXT NOT NULL CHECK (json_valid(changes)),
  note     TEXT NOT NULL
) STRICT;
CREATE INDEX plan_yard ON plan (yard);
CREATE INDEX plan_hive ON plan (hive);

CREATE TABLE record (
  id           TEXT PRIMARY KEY,
  revision     INTEGER NOT NULL,
  changed      TEXT NOT NULL,
  deleted      INTEGER NOT NULL,
  kind         TEXT NOT NULL,
  at           TEXT NOT NULL,
  instant      INTEGER NOT NULL,
  hive         TEXT REFERENCES hive (id),
  colony       TEXT REFERENCES colony (id),
  other_colony TEXT REFERENCES colony (id), -- that the record's values name
  "values"     TEXT NOT NULL CHECK (json_valid("values")),
  note         TEXT NOT NULL
) STRICT;
CREATE INDEX record_hive ON record (hive, instant);
CREATE INDEX record_colony ON record (colony, instant);
CREATE INDEX record_kind ON record (kind, instant);
CREATE INDEX record_other_colony ON record (other_colony) WHERE other_colony IS NOT NULL;

-- Every version of everything above, the present one included. content is the
-- revision whose content a version carries, which is its own unless it came from
-- an undo or redo; previous is the content that this content took the place of.
CREATE TABLE version (
  id       TEXT NOT NULL,
  revision INTEGER NOT NULL,
  of       TEXT NOT NULL, -- table that the thing stands in
  changed  TEXT NOT NULL,
  content  INTEGER NOT NULL,
  previous INTEGER NOT NULL,
  body     TEXT NOT NULL CHECK (json_valid(body)),
  PRIMARY KEY (id, revision)
) STRICT, WITHOUT ROWID;

CREATE TABLE weather (
  id            TEXT PRIMARY KEY,
  name          TEXT NOT NULL,
  source        TEXT NOT NULL,
  added         TEXT NOT NULL,
  hash          TEXT NOT NULL, -- SHA-256 of the series before it was packed
  latitude_deg  REAL NOT NULL,
  longitude_deg REAL NOT NULL,
  height_m      REAL NOT NULL,
  start         TEXT NOT NULL,
  hours         INTEGER NOT NULL,
  typical       INTEGER NOT NULL,
  series        BLOB NOT NULL -- JSON, packed with gzip
) STRICT;

CREATE INDEX weather_hash ON weather (hash);

CREATE TABLE setting (
  name  TEXT PRIMARY KEY,
  value TEXT NOT NULL CHECK (json_valid(value))
) STRICT, WITHOUT ROWID;

-- Never exported: the hash of a password and the like.
CREATE TABLE secret (
  name  TEXT PRIMARY KEY,
  value TEXT NOT NULL CHECK (json_valid(value))
) STRICT, WITHOUT ROWID;

CREATE TABLE session (
  hash    TEXT PRIMARY KEY, -- of the token, which is not kept
  created INTEGER NOT NULL,
  seen    INTEGER NOT NULL,
  expires INTEGER NOT NULL,
  agent   TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE job (
  id       TEXT PRIMARY KEY,
  kind     TEXT NOT NULL,
  state    TEXT NOT NULL,
  progress REAL NOT NULL,
  message  TEXT NOT NULL,
  input    TEXT NOT NULL CHECK (json_valid(input)),
  result   TEXT NOT NULL, -- key of the result among the cached ones
  error    TEXT NOT NULL,
  created  TEXT NOT NULL,
  changed  TEXT NOT NULL
) STRICT;
CREATE INDEX job_state ON job (state);

-- Results that can be computed again; the least used go first.
CREATE TABLE cached (
  key   TEXT PRIMARY KEY,
  size  INTEGER NOT NULL,
  used  INTEGER NOT NULL, -- when it was last asked for, to the hour
  bytes BLOB NOT NULL
) STRICT;
CREATE INDEX cached_used ON cached (used);
