-- What the code takes to be there once was kept by no key until now. A store may hold rows twice, or rows that point at
-- nothing; those are taken out here, and `mended` says how many. What is lost with them is read again: their files leave
-- the ledger. The keys themselves come next, in a transaction of their own: the engine counts rows that a transaction has
-- deleted against a key that it adds.

CREATE TABLE mended (what VARCHAR NOT NULL, rows BIGINT NOT NULL);

-- Of stores with rows only.

INSERT INTO mended
SELECT 'intake', count(*) FROM intake UNION ALL
SELECT 'recording', count(*) FROM recording UNION ALL
SELECT 'sample', count(*) FROM sample UNION ALL
SELECT 'session', count(*) FROM session UNION ALL
SELECT 'checkin', count(*) FROM checkin UNION ALL
SELECT 'verdict', count(*) FROM verdict UNION ALL
SELECT 'finding', count(*) FROM finding UNION ALL
SELECT 'mark', count(*) FROM mark UNION ALL
SELECT 'hold', count(*) FROM hold UNION ALL
SELECT 'outbox', count(*) FROM outbox UNION ALL
SELECT 'told_once', count(*) FROM told_once UNION ALL
SELECT 'channel_pause', count(*) FROM channel_pause;

-- Two recordings under one number: nobody can tell whose the samples are, so both are read again. Of the same recording
-- stored twice the first stays.
CREATE TEMP TABLE broken_recording AS
SELECT number, athlete, sha256 FROM recording QUALIFY count(*) OVER (PARTITION BY number) > 1;
DELETE FROM recording WHERE number IN (SELECT number FROM broken_recording);
DELETE FROM recording WHERE rowid IN (
    SELECT rowid FROM recording QUALIFY row_number() OVER (PARTITION BY athlete, sha256, part ORDER BY number) > 1);
DELETE FROM sample WHERE recording NOT IN (SELECT number FROM recording);

-- A session without one of its recordings is told anew by its file.
CREATE TEMP TABLE broken_session AS
SELECT DISTINCT athlete, key, source FROM (
    SELECT athlete, key, source, unnest(string_split(trim(parts, '[] '), ',')) AS part FROM session)
WHERE part <> '' AND coalesce(try_cast(trim(part) AS INTEGER), -1) NOT IN (SELECT number FROM recording);
DELETE FROM session WHERE (athlete, key) IN (SELECT (athlete, key) FROM broken_session);
DELETE FROM session WHERE rowid IN (
    SELECT rowid FROM session QUALIFY row_number() OVER (PARTITION BY athlete, key ORDER BY rowid DESC) > 1);
DELETE FROM intake WHERE (athlete, sha256) IN (
    SELECT (athlete, sha256) FROM broken_recording UNION ALL
    SELECT (i.athlete, i.sha256) FROM intake i JOIN broken_session s ON i.athlete = s.athlete AND i.path = s.source);
DROP TABLE broken_recording;
DROP TABLE broken_session;

DELETE FROM verdict WHERE (athlete, key) NOT IN (SELECT (athlete, key) FROM session);
DELETE FROM verdict WHERE rowid IN (
    SELECT rowid FROM verdict QUALIFY row_number() OVER (PARTITION BY athlete, key ORDER BY rowid DESC) > 1);
DELETE FROM finding WHERE rowid IN (
    SELECT rowid FROM finding QUALIFY row_number() OVER (PARTITION BY id ORDER BY changed_at DESC, rowid DESC) > 1);
DELETE FROM mark WHERE rowid IN (
    SELECT rowid FROM mark QUALIFY row_number() OVER (PARTITION BY finding, marked_by, marked_at ORDER BY rowid) > 1);
DELETE FROM calendar_entry WHERE rowid IN (
    SELECT rowid FROM calendar_entry QUALIFY row_number() OVER (PARTITION BY athlete, uid ORDER BY sequence DESC) > 1);
DELETE FROM judged WHERE rowid IN (
    SELECT rowid FROM judged QUALIFY row_number() OVER (PARTITION BY athlete ORDER BY rowid DESC) > 1);
DELETE FROM channel_pause WHERE rowid IN (
    SELECT rowid FROM channel_pause QUALIFY row_number() OVER (PARTITION BY contact, channel ORDER BY rowid DESC) > 1);
UPDATE told_once SET owed = true WHERE key IN (SELECT key FROM told_once WHERE owed);
DELETE FROM told_once WHERE rowid IN (
    SELECT rowid FROM told_once QUALIFY row_number() OVER (PARTITION BY key ORDER BY replayed, noted_at, rowid) > 1);

DELETE FROM intake WHERE state NOT IN ('read', 'duplicate', 'unreadable', 'ignored', 'waiting');
DELETE FROM intake WHERE rowid IN (
    SELECT rowid FROM intake
    QUALIFY row_number() OVER (PARTITION BY athlete, path, sha256 ORDER BY current DESC, read_at DESC) > 1);
UPDATE intake SET current = false WHERE rowid IN (
    SELECT rowid FROM intake WHERE current
    QUALIFY row_number() OVER (PARTITION BY athlete, path ORDER BY read_at DESC, rowid DESC) > 1);
DELETE FROM checkin WHERE rowid IN (
    SELECT rowid FROM checkin
    QUALIFY row_number() OVER (PARTITION BY athlete, date, fact ORDER BY mtime_ns DESC, rowid) > 1);
DELETE FROM hold WHERE kind NOT IN ('hold', 'release');
DELETE FROM hold WHERE rowid IN (
    SELECT rowid FROM hold QUALIFY row_number() OVER (
        PARTITION BY athlete, kind, on_date, days, why, held_by, held_at ORDER BY rowid) > 1);
DELETE FROM outbox WHERE rowid IN (
    SELECT rowid FROM outbox
    QUALIFY row_number() OVER (PARTITION BY id ORDER BY state = 'sent' DESC, tries DESC, rowid) > 1);
UPDATE outbox SET state = 'waiting' WHERE state NOT IN ('waiting', 'held', 'sent', 'failed');
UPDATE outbox SET severity = 'stop' WHERE severity NOT IN ('note', 'caution', 'stop');

UPDATE mended SET rows = mended.rows - left_over.rows FROM (
SELECT 'intake' AS what, count(*) AS rows FROM intake UNION ALL
SELECT 'recording', count(*) FROM recording UNION ALL
SELECT 'sample', count(*) FROM sample UNION ALL
SELECT 'session', count(*) FROM session UNION ALL
SELECT 'checkin', count(*) FROM checkin UNION ALL
SELECT 'verdict', count(*) FROM verdict UNION ALL
SELECT 'finding', count(*) FROM finding UNION ALL
SELECT 'mark', count(*) FROM mark UNION ALL
SELECT 'hold', count(*) FROM hold UNION ALL
SELECT 'outbox', count(*) FROM outbox UNION ALL
SELECT 'told_once', count(*) FROM told_once UNION ALL
SELECT 'channel_pause', count(*) FROM channel_pause) AS left_over
WHERE mended.what = left_over.what;
DELETE FROM mended WHERE rows = 0;
