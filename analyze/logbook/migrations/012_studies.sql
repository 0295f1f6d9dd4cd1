-- A study as it was declared before its first recording. No recording tells of it.
CREATE TABLE studies (
    id        INTEGER PRIMARY KEY,
    name      TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 60),
    key       TEXT NOT NULL UNIQUE,
    declared  TEXT NOT NULL CHECK (date(declared) IS declared),
    seed      INTEGER NOT NULL,                              -- the bits of a uint64
    measure   TEXT NOT NULL,                                 -- symbol of the primary measure
    feet      TEXT NOT NULL CHECK (feet IN ('both', 'left', 'right')),
    visits    INTEGER NOT NULL CHECK (visits >= 1),          -- of each dancer
    mountings INTEGER NOT NULL CHECK (mountings >= 1),       -- of each shoe in a visit
    releves   INTEGER NOT NULL CHECK (releves >= 1),         -- fewest in a mounting
    stop      INTEGER NOT NULL CHECK (stop >= 1)             -- dancers with all recordings before shoes are compared
) STRICT;

CREATE TABLE study_shoes (
    study_id INTEGER NOT NULL REFERENCES studies ON DELETE CASCADE,
    place    INTEGER NOT NULL CHECK (place >= 1),            -- in the order in which they were named
    shoe_id  INTEGER NOT NULL REFERENCES shoes,
    label    TEXT NOT NULL CHECK (label <> ''),
    PRIMARY KEY (study_id, place),
    UNIQUE (study_id, shoe_id),
    UNIQUE (study_id, label)
) STRICT;
CREATE INDEX study_shoes_shoe ON study_shoes (shoe_id);

-- One row of the Williams squares. A dancer who is erased leaves it empty.
CREATE TABLE study_rows (
    study_id  INTEGER NOT NULL REFERENCES studies ON DELETE CASCADE,
    number    INTEGER NOT NULL CHECK (number >= 1),
    dancer_id INTEGER REFERENCES dancers ON DELETE SET NULL,
    places    TEXT NOT NULL,                                 -- of study_shoes in the order of the first round: JSON
    PRIMARY KEY (study_id, number),
    UNIQUE (study_id, dancer_id)
) STRICT;
CREATE INDEX study_rows_dancer ON study_rows (dancer_id);

-- Which visits belong to a study, and as which of its dancer's.
CREATE TABLE study_visits (
    study_id INTEGER NOT NULL REFERENCES studies ON DELETE CASCADE,
    visit_id INTEGER NOT NULL UNIQUE REFERENCES visits ON DELETE CASCADE,
    number   INTEGER NOT NULL CHECK (number >= 1),
    PRIMARY KEY (study_id, visit_id)
) STRICT;

-- What was done to a study since it was declared: see study.Kind.
CREATE TABLE study_changes (
    id         INTEGER PRIMARY KEY,
    study_id   INTEGER NOT NULL REFERENCES studies ON DELETE CASCADE,
    day        TEXT NOT NULL CHECK (date(day) IS day),
    kind       TEXT NOT NULL CHECK (kind IN ('drop-out', 'amendment', 'interim', 'key')),
    what       TEXT NOT NULL DEFAULT '',
    reason     TEXT NOT NULL DEFAULT '',
    row_number INTEGER,
    from_id    INTEGER REFERENCES dancers ON DELETE SET NULL,
    to_id      INTEGER REFERENCES dancers ON DELETE SET NULL
) STRICT;
CREATE INDEX study_changes_study ON study_changes (study_id);
CREATE INDEX study_changes_from ON study_changes (from_id);
CREATE INDEX study_changes_to ON study_changes (to_id);

-- The files that recordings were made of, so that loading a manifest again makes no doubles.
CREATE TABLE sources (
    sha256       TEXT NOT NULL CHECK (length(sha256) = 64),
    recording_id INTEGER NOT NULL REFERENCES recordings ON DELETE CASCADE,
    foot         TEXT NOT NULL CHECK (foot IN ('left', 'right', 'both')),
    PRIMARY KEY (sha256, foot)
) STRICT;
CREATE INDEX sources_recording ON sources (recording_id);
