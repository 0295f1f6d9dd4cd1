-- What a dancer agreed to: that the data serve the study, that they are also passed on
-- without names, or nothing any more. '': not recorded, as in logbooks made before.
ALTER TABLE dancers ADD COLUMN consent TEXT NOT NULL DEFAULT '' CHECK (consent IN ('', 'study', 'sharing', 'withdrawn'));
ALTER TABLE dancers ADD COLUMN consent_day TEXT NOT NULL DEFAULT '' CHECK (consent_day = '' OR consent <> '' AND date(consent_day) IS consent_day);
