-- What the strip contributes to a declared measure besides the seat, source by source, and
-- the degrees of freedom of what the seat contributes. Without them nothing says which part
-- cancels between two visits on one strip.
ALTER TABLE measures ADD COLUMN sensor TEXT NOT NULL DEFAULT ''; -- JSON, see sensor.Part; '': not kept
ALTER TABLE measures ADD COLUMN dof_seat REAL CHECK (dof_seat >= 0); -- NULL where they are unlimited or not kept
