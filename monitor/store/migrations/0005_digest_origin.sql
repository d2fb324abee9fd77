-- Which code and limits a digest was made by; NULL where it is not known. One that was made by others than those of now
-- is made anew from the samples.
ALTER TABLE recording ADD COLUMN digest_by VARCHAR;
ALTER TABLE session ADD COLUMN digest_by VARCHAR;
