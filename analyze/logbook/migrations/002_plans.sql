-- In which order the shoes of a visit are to be tried. No recording tells of it.
CREATE TABLE plans (
    visit_id INTEGER PRIMARY KEY REFERENCES visits ON DELETE CASCADE,
    seed     INTEGER NOT NULL,                             -- the bits of a uint64
    releves  INTEGER NOT NULL CHECK (releves >= 1)         -- in every mounting
) STRICT;

-- One mounting of the strips under one shoe. A shoe that goes takes its steps along.
CREATE TABLE plan_steps (
    visit_id INTEGER NOT NULL REFERENCES plans ON DELETE CASCADE,
    step     INTEGER NOT NULL CHECK (step >= 1),
    shoe_id  INTEGER NOT NULL REFERENCES shoes ON DELETE CASCADE,
    mounting INTEGER NOT NULL CHECK (mounting >= 1),       -- of this shoe
    PRIMARY KEY (visit_id, step)
) STRICT;
CREATE INDEX plan_steps_shoe ON plan_steps (shoe_id);
