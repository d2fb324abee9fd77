-- What a file says of nights, mornings and check-ins, and whether its table can be read at all, hangs on the athlete's
-- entry in the roster (timezone, columns). NULL for files of which nothing hangs on it.
ALTER TABLE intake ADD COLUMN read_under VARCHAR;
