-- What is said in a fitting before the first rise and after the last.
ALTER TABLE visits ADD COLUMN pain_where TEXT NOT NULL DEFAULT '';  -- before: "left heel 2, right big toe 1"
ALTER TABLE visits ADD COLUMN warm_up TEXT NOT NULL DEFAULT '' CHECK (warm_up IN ('', 'yes', 'no'));
ALTER TABLE visits ADD COLUMN max_rises INTEGER NOT NULL DEFAULT 0 CHECK (max_rises >= 0); -- 0: no limit
ALTER TABLE visits ADD COLUMN single_leg_left INTEGER CHECK (single_leg_left >= 0);        -- rises on one leg
ALTER TABLE visits ADD COLUMN single_leg_right INTEGER CHECK (single_leg_right >= 0);
ALTER TABLE visits ADD COLUMN choice TEXT NOT NULL DEFAULT '';      -- code of the shoe that the fitter chose
ALTER TABLE visits ADD COLUMN choice_why TEXT NOT NULL DEFAULT '';

-- What people said of a recording after it was made, as its correction file has it: JSON,
-- and of that the decision. A recording with the decision repeat or discard enters no comparison.
ALTER TABLE recordings ADD COLUMN remark TEXT NOT NULL DEFAULT '';
ALTER TABLE recordings ADD COLUMN decision TEXT NOT NULL DEFAULT '' CHECK (decision IN ('', 'use', 'repeat', 'discard'));

-- The rises of a recording, aborted and discarded ones too; NULL where it was measured before
-- they were counted, or not yet.
ALTER TABLE recordings ADD COLUMN rises INTEGER CHECK (rises >= 0);

-- The feet that a plan is about; '' where it was made before plans said so.
ALTER TABLE plans ADD COLUMN feet TEXT NOT NULL DEFAULT '' CHECK (feet IN ('', 'both', 'left', 'right'));
