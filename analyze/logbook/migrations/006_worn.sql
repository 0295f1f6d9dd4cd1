-- What the dancer saw of the numbers in a recording, and how a shoe was worn in it, as its
-- file says: '' and 0 where nobody said it.
ALTER TABLE recordings ADD COLUMN feedback TEXT NOT NULL DEFAULT '';   -- none, after, live
ALTER TABLE recorded_feet ADD COLUMN mark INTEGER NOT NULL DEFAULT 0 CHECK (mark BETWEEN 0 AND 2);
ALTER TABLE recorded_feet ADD COLUMN padding TEXT NOT NULL DEFAULT ''; -- between foot and shoe; '': as the shoe says
ALTER TABLE recorded_feet ADD COLUMN fixing TEXT NOT NULL DEFAULT '';  -- of the strip to the shoe
