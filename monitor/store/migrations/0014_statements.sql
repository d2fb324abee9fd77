-- Findings, verdicts and digests hold statements (a key with values) where they held sentences. Rows made before read as
-- they are; the name of this file keeps an older program, which cannot read the new ones, from opening the store.
SELECT 'nothing to change';
