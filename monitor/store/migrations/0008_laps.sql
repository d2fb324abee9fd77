-- Where laps were pressed, and whether the device names a barometer among its sensors. What was read before tells of
-- neither, until its file comes again.
ALTER TABLE recording ADD COLUMN lap_marks VARCHAR DEFAULT '[]';   -- JSON [s, ...] on the samples' clock
ALTER TABLE recording ADD COLUMN barometer BOOLEAN;
ALTER TABLE session ADD COLUMN lap_marks VARCHAR DEFAULT '[]';
ALTER TABLE session ADD COLUMN barometer BOOLEAN;
