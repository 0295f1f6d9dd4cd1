-- How a strip agreed with a reference instrument in one recording. A version of a strip that
-- was set against a reference never changes: an edit makes another version.
CREATE TABLE agreements (
    id               INTEGER PRIMARY KEY,
    strip_version_id INTEGER NOT NULL REFERENCES strip_versions ON DELETE CASCADE,
    recording_id     INTEGER REFERENCES recordings ON DELETE SET NULL,
    day              TEXT NOT NULL CHECK (date(day) IS day),
    instrument       TEXT NOT NULL,                     -- in the user's words; '' where nobody said
    reference_sha256 TEXT NOT NULL CHECK (length(reference_sha256) = 64),
    simulated        INTEGER NOT NULL CHECK (simulated IN (0, 1)),
    evidence         TEXT NOT NULL CHECK (evidence IN ('press', 'holds', 'assumed')),
    UNIQUE (strip_version_id, reference_sha256, day)    -- the last one counts
) STRICT;
CREATE INDEX agreements_recording ON agreements (recording_id);

CREATE TABLE agreed_measures (
    agreement_id INTEGER NOT NULL REFERENCES agreements ON DELETE CASCADE,
    measure      TEXT NOT NULL,                         -- symbol, such as over_mm
    holds        INTEGER NOT NULL CHECK (holds >= 3),
    bias         REAL NOT NULL,                         -- mean of strip less reference
    lower        REAL NOT NULL,                         -- 95 % limits of agreement
    upper        REAL NOT NULL CHECK (upper >= lower),
    PRIMARY KEY (agreement_id, measure)
) STRICT, WITHOUT ROWID;
