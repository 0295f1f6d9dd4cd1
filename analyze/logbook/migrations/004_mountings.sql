-- What the seat of the strip contributes to a measure's standard uncertainty, and what
-- the seat was found from. Without it nothing says how much of the difference between two
-- mountings the seat explains.
ALTER TABLE measures ADD COLUMN u_seat REAL NOT NULL DEFAULT 0 CHECK (u_seat >= 0);
ALTER TABLE releves ADD COLUMN evidence TEXT NOT NULL DEFAULT ''; -- see measure.Evidence; '': measured before it was kept
