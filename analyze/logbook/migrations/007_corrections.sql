-- What a recording says wrongly of itself is corrected in a file beside it, and the rows
-- of the recording follow that. This is the SHA-256 of the correction that they follow,
-- '' where there is none.
ALTER TABLE recordings ADD COLUMN correction TEXT NOT NULL DEFAULT '';
