-- The degrees of freedom of a standard uncertainty, without which it gives no interval.
-- What the seat of the strip contributes to it, and what the seat was found from. Without it nothing says how much of the difference between two
-- mountings the seat explains.
ALTER TABLE measures ADD COLUMN u_seat REAL NOT NULL DEFAULT 0 CHECK (u_seat >= 0);
ALTER TABLE measures ADD COLUMN dof REAL CHECK (dof >= 0); -- degrees of freedom of u, NULL where they are unlimited
ALTER TABLE releves ADD COLUMN evidence TEXT NOT NULL DEFAULT ''; -- see measure.Evidence; '': measured before it was kept
