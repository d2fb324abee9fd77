-- A file that tells of days to come, which were left out, is read again once the first of them is here: it may have been
-- this machine's clock that was wrong.
ALTER TABLE intake ADD COLUMN again_on DATE;
