-- What a strip read under known weights on known places. A version of a strip that was
-- checked never changes: an edit makes another version.
CREATE TABLE strip_checks (
    id               INTEGER PRIMARY KEY,
    strip_version_id INTEGER NOT NULL REFERENCES strip_versions ON DELETE CASCADE,
    day              TEXT NOT NULL CHECK (date(day) IS day),
    pass             INTEGER NOT NULL CHECK (pass IN (0, 1)),
    presses          INTEGER NOT NULL CHECK (presses >= 1),
    load_bias        REAL NOT NULL CHECK (load_bias >= -1),      -- mean relative error
    load_rms         REAL NOT NULL CHECK (load_rms >= 0),        -- root mean square of the relative error
    cop_rms_mm       REAL CHECK (cop_rms_mm >= 0),               -- NULL where no press had a centre of pressure
    load_u           REAL NOT NULL CHECK (load_u >= 0),          -- relative standard uncertainty of the weights
    load_limit       REAL NOT NULL CHECK (load_limit > 0),       -- relative
    cop_limit_mm     REAL NOT NULL CHECK (cop_limit_mm > 0)
) STRICT;
CREATE INDEX strip_checks_version ON strip_checks (strip_version_id);
