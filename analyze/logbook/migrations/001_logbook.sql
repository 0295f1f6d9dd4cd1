-- Who wore what when, and where the recording is.
--
-- "key" is a code as it is compared: without case, Unicode form and spacing.
-- A shoe or a strip that was recorded with never changes: it gets another
-- version, and each recording points at the one that it was made with.
-- '' and NULL both stand for what nobody said; NULL where 0 could be meant.

CREATE TABLE dancers (
    id           INTEGER PRIMARY KEY,
    code         TEXT NOT NULL CHECK (length(code) BETWEEN 1 AND 60),
    key          TEXT NOT NULL UNIQUE,
    birth_year   INTEGER CHECK (birth_year BETWEEN 1900 AND 2200),
    pointe_years REAL CHECK (pointe_years BETWEEN 0 AND 100),
    watched      TEXT NOT NULL DEFAULT '' CHECK (watched IN ('', 'left', 'right')),
    note         TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE feet (
    dancer_id       INTEGER NOT NULL REFERENCES dancers ON DELETE CASCADE,
    foot            TEXT NOT NULL CHECK (foot IN ('left', 'right')),
    toe_shape       TEXT NOT NULL DEFAULT '' CHECK (toe_shape IN ('', 'sloping', 'level', 'peaked')),
    longest_toe     INTEGER CHECK (longest_toe BETWEEN 1 AND 5), -- 1 is the big toe
    width           TEXT NOT NULL DEFAULT '' CHECK (width IN ('', 'narrow', 'medium', 'wide')),
    compressibility TEXT NOT NULL DEFAULT '' CHECK (compressibility IN ('', 'low', 'medium', 'high')),
    PRIMARY KEY (dancer_id, foot)
) STRICT;

CREATE TABLE shoes (
    id       INTEGER PRIMARY KEY,
    code     TEXT NOT NULL CHECK (length(code) BETWEEN 1 AND 60),
    key      TEXT NOT NULL UNIQUE,
    current  INTEGER NOT NULL,                              -- a version
    owner_id INTEGER REFERENCES dancers ON DELETE SET NULL  -- NULL: nobody's own pair
) STRICT;
CREATE INDEX shoes_owner ON shoes (owner_id);

CREATE TABLE shoe_versions (
    id      INTEGER PRIMARY KEY,
    item_id INTEGER NOT NULL REFERENCES shoes ON DELETE CASCADE,
    version INTEGER NOT NULL CHECK (version >= 1),
    profile TEXT NOT NULL,                                  -- TOML, as its own file would hold it
    entered INTEGER NOT NULL CHECK (entered IN (0, 1)),     -- 0: only a recording told of it
    UNIQUE (item_id, version),
    UNIQUE (item_id, profile)
) STRICT;

CREATE TABLE strips (
    id      INTEGER PRIMARY KEY,
    code    TEXT NOT NULL CHECK (length(code) BETWEEN 1 AND 60),
    key     TEXT NOT NULL UNIQUE,
    current INTEGER NOT NULL
) STRICT;

CREATE TABLE strip_versions (
    id      INTEGER PRIMARY KEY,
    item_id INTEGER NOT NULL REFERENCES strips ON DELETE CASCADE,
    version INTEGER NOT NULL CHECK (version >= 1),
    profile TEXT NOT NULL,
    entered INTEGER NOT NULL CHECK (entered IN (0, 1)),
    UNIQUE (item_id, version),
    UNIQUE (item_id, profile)
) STRICT;

CREATE TABLE visits (
    id          INTEGER PRIMARY KEY,
    dancer_id   INTEGER NOT NULL REFERENCES dancers ON DELETE CASCADE,
    day         TEXT NOT NULL CHECK (date(day) IS day),
    number      INTEGER NOT NULL CHECK (number >= 1),       -- of the dancer's visits that day
    support     TEXT NOT NULL DEFAULT '' CHECK (support IN ('', 'barre', 'hand', 'none')),
    rise        TEXT NOT NULL DEFAULT '' CHECK (rise IN ('', 'roll-up', 'spring', 'step')),
    position    TEXT NOT NULL DEFAULT '',
    floor       TEXT NOT NULL DEFAULT '',
    mass_kg     REAL CHECK (mass_kg > 0 AND mass_kg <= 300),
    pain_before INTEGER CHECK (pain_before BETWEEN 0 AND 10),
    pain_after  INTEGER CHECK (pain_after BETWEEN 0 AND 10),
    baseline    INTEGER NOT NULL DEFAULT 0 CHECK (baseline IN (0, 1)),
    note        TEXT NOT NULL DEFAULT '',
    UNIQUE (dancer_id, day, number)
) STRICT;

-- One fixing of a strip under a shoe.
CREATE TABLE mountings (
    id       INTEGER PRIMARY KEY,
    strip_id INTEGER NOT NULL REFERENCES strips ON DELETE CASCADE,
    name     TEXT NOT NULL CHECK (name <> ''),
    UNIQUE (strip_id, name)
) STRICT;

-- Support and what follows it are what the file says, whatever the visit says.
CREATE TABLE recordings (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,            -- its number: that of one erased does not come back
    visit_id   INTEGER NOT NULL REFERENCES visits ON DELETE CASCADE,
    file       TEXT NOT NULL UNIQUE,                        -- its name in the folder recordings
    sha256     TEXT NOT NULL UNIQUE CHECK (length(sha256) = 64),
    size       INTEGER NOT NULL CHECK (size >= 0),
    started_ns INTEGER NOT NULL,                            -- since 1970
    software   TEXT NOT NULL DEFAULT '',
    support    TEXT NOT NULL DEFAULT '',
    rise       TEXT NOT NULL DEFAULT '',
    position   TEXT NOT NULL DEFAULT '',
    floor      TEXT NOT NULL DEFAULT '',
    mass_kg    REAL
) STRICT;
CREATE INDEX recordings_visit ON recordings (visit_id);

CREATE TABLE recorded_feet (
    recording_id     INTEGER NOT NULL REFERENCES recordings ON DELETE CASCADE,
    foot             TEXT NOT NULL CHECK (foot IN ('left', 'right')),
    shoe_version_id  INTEGER NOT NULL REFERENCES shoe_versions,
    strip_version_id INTEGER NOT NULL REFERENCES strip_versions,
    mounting_id      INTEGER REFERENCES mountings,          -- NULL: nothing says it was the same as another
    PRIMARY KEY (recording_id, foot)
) STRICT;
CREATE INDEX recorded_feet_shoe ON recorded_feet (shoe_version_id);
CREATE INDEX recorded_feet_strip ON recorded_feet (strip_version_id);
CREATE INDEX recorded_feet_mounting ON recorded_feet (mounting_id);

CREATE TABLE releves (
    id           INTEGER PRIMARY KEY,
    recording_id INTEGER NOT NULL,
    foot         TEXT NOT NULL,
    n            INTEGER NOT NULL CHECK (n >= 1),           -- by onset, both feet of a pair share it
    feet_up      INTEGER NOT NULL CHECK (feet_up IN (1, 2)),
    start_s      REAL NOT NULL,                             -- since the recording's first frame
    status       TEXT NOT NULL CHECK (status IN ('measured', 'aborted')),
    verdict      TEXT NOT NULL DEFAULT '',
    UNIQUE (recording_id, foot, n),
    FOREIGN KEY (recording_id, foot) REFERENCES recorded_feet ON DELETE CASCADE
) STRICT;

CREATE TABLE measures (
    releve_id INTEGER NOT NULL REFERENCES releves ON DELETE CASCADE,
    name      TEXT NOT NULL CHECK (name <> ''),
    value     REAL NOT NULL,
    u         REAL CHECK (u >= 0),                          -- standard uncertainty, NULL where there is none
    version   TEXT NOT NULL CHECK (version <> ''),          -- of the program that computed it
    PRIMARY KEY (releve_id, name)
) STRICT, WITHOUT ROWID;

-- Where backups went, so that erasing a dancer can name those that still hold them.
CREATE TABLE backups (
    path    TEXT NOT NULL PRIMARY KEY,
    made_ns INTEGER NOT NULL                                -- since 1970
) STRICT;

-- What is still to be erased after rows went: files of the folder recordings,
-- and with file '' the pages of this database. Empty unless work was cut short.
CREATE TABLE erasing (
    file TEXT NOT NULL PRIMARY KEY
) STRICT;
