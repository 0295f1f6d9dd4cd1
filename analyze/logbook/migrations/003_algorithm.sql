-- The algorithm with which the measures of a recording were computed, see package
-- provenance. All measures of a recording are computed together, so it stands with
-- the recording; a recording without a relevé has one as well.
ALTER TABLE recordings ADD COLUMN algorithm TEXT NOT NULL DEFAULT ''; -- '': not measured, or by a program that did not say

-- The id of a recording, which follows from its frames and events. Other files can
-- hold the same recording: one that was cut short and one that was finished from it.
ALTER TABLE recordings ADD COLUMN identity TEXT NOT NULL DEFAULT ''; -- '': nobody has computed it yet
CREATE INDEX recordings_identity ON recordings (identity);
