-- Keys: what the code takes to be there once can be there once only.
--
-- No key where two rows alike do no harm: night and morning (the newest value of each field stands), hold (the same days
-- are held), decision and outbox by number (it only puts them in order). None on samples: it costs 40 % in size and time.
-- No text of any length in one: the engine takes none of more than 120 kB. No foreign keys: the engine checks them at
-- each statement, while facts are replaced by taking the old out first.

ALTER TABLE recording ADD PRIMARY KEY (number);
CREATE UNIQUE INDEX recording_of_bytes ON recording (athlete, sha256, part);
ALTER TABLE session ADD PRIMARY KEY (athlete, key);
ALTER TABLE verdict ADD PRIMARY KEY (athlete, key);
ALTER TABLE finding ADD PRIMARY KEY (id);
ALTER TABLE mark ADD PRIMARY KEY (finding, marked_by, marked_at);
ALTER TABLE calendar_entry ADD PRIMARY KEY (athlete, uid);
ALTER TABLE judged ADD PRIMARY KEY (athlete);
ALTER TABLE channel_pause ADD PRIMARY KEY (contact, channel);
ALTER TABLE told_once ADD PRIMARY KEY (key);

-- What is written anew: tables whose values are checked too, which the engine cannot add to one that is there.

CREATE TABLE intake_keyed (
    athlete VARCHAR NOT NULL,
    path VARCHAR NOT NULL,
    sha256 VARCHAR NOT NULL,          -- '' while nothing could be read
    size BIGINT NOT NULL,
    mtime_ns BIGINT NOT NULL,
    state VARCHAR NOT NULL CHECK (state IN ('read', 'duplicate', 'unreadable', 'ignored', 'waiting')),
    reason VARCHAR NOT NULL DEFAULT '',
    sessions INTEGER NOT NULL DEFAULT 0,
    nights INTEGER NOT NULL DEFAULT 0,
    mornings INTEGER NOT NULL DEFAULT 0,
    checkins INTEGER NOT NULL DEFAULT 0,
    read_at TIMESTAMP,
    current BOOLEAN NOT NULL DEFAULT true,  -- false once other bytes lie at the path
    arrived_at TIMESTAMP,                   -- NULL on first import: then the facts themselves tell when they came
    read_under VARCHAR,
    again_on DATE,
    PRIMARY KEY (athlete, path, sha256)
);
INSERT INTO intake_keyed SELECT * FROM intake;
DROP TABLE intake;
ALTER TABLE intake_keyed RENAME TO intake;
CREATE UNIQUE INDEX intake_now ON intake (athlete, (CASE WHEN current THEN path END));

CREATE TABLE checkin_keyed (
    athlete VARCHAR NOT NULL, date DATE NOT NULL, ordering DOUBLE NOT NULL, fact VARCHAR NOT NULL,
    fact_md5 VARCHAR NOT NULL,        -- stands for the fact in the key: a note may be long
    source VARCHAR NOT NULL, sha256 VARCHAR NOT NULL, mtime_ns BIGINT NOT NULL,
    PRIMARY KEY (athlete, date, fact_md5)
);
INSERT INTO checkin_keyed
SELECT athlete, date, ordering, fact, md5(fact), source, sha256, mtime_ns FROM checkin;
DROP TABLE checkin;
ALTER TABLE checkin_keyed RENAME TO checkin;

CREATE TABLE hold_keyed (
    athlete VARCHAR NOT NULL, kind VARCHAR NOT NULL CHECK (kind IN ('hold', 'release')), on_date DATE NOT NULL,
    days INTEGER, why VARCHAR NOT NULL, held_by VARCHAR NOT NULL, held_at TIMESTAMP NOT NULL
);
INSERT INTO hold_keyed SELECT * FROM hold;
DROP TABLE hold;
ALTER TABLE hold_keyed RENAME TO hold;

-- The earliest day of an athlete's facts that no judgement has seen.
CREATE TABLE unjudged_keyed (athlete VARCHAR PRIMARY KEY, since DATE NOT NULL);
INSERT INTO unjudged_keyed SELECT athlete, min(since) FROM unjudged GROUP BY athlete;
DROP TABLE unjudged;
ALTER TABLE unjudged_keyed RENAME TO unjudged;

CREATE TABLE outbox_keyed (
    id VARCHAR PRIMARY KEY,
    number BIGINT NOT NULL,               -- the same for all recipients of one address
    athlete VARCHAR NOT NULL,             -- '' when it is about the program itself
    contact VARCHAR NOT NULL,
    channel INTEGER NOT NULL,             -- position among the contact's URLs, from 1
    channel_shown VARCHAR NOT NULL,       -- the URL without anything secret
    kind VARCHAR NOT NULL,                -- alert daily stage notice
    severity VARCHAR NOT NULL CHECK (severity IN ('note', 'caution', 'stop')),
    items VARCHAR NOT NULL,               -- JSON of the alerts in it, from which title and body are composed
    findings VARCHAR NOT NULL,            -- JSON list of finding ids
    once VARCHAR,                         -- the key in told_once, for what is told a single time
    title VARCHAR NOT NULL,
    body VARCHAR NOT NULL,
    state VARCHAR NOT NULL CHECK (state IN ('waiting', 'held', 'sent', 'failed')),
    reason VARCHAR NOT NULL,
    created_at TIMESTAMP NOT NULL,
    not_before TIMESTAMP,                 -- end of the quiet hours, for a held row
    sent_at TIMESTAMP,
    tries INTEGER NOT NULL DEFAULT 0,
    last_error VARCHAR,
    first_try_wall TIMESTAMP,
    next_try_wall TIMESTAMP,
    claimed_by VARCHAR,
    claimed_until_wall TIMESTAMP,
    sent_wall TIMESTAMP,
    journaled BOOLEAN NOT NULL DEFAULT false,
    tried_wall TIMESTAMP,                 -- the last try
    awake_s DOUBLE NOT NULL DEFAULT 0,    -- time awake between the tries
    perhaps INTEGER NOT NULL DEFAULT 0,   -- tries that left whole and unanswered
    refused BOOLEAN NOT NULL DEFAULT false,  -- for good: waits alone
    recipient VARCHAR NOT NULL DEFAULT '',   -- a mark, where an address has several
    recipient_number INTEGER NOT NULL DEFAULT 0
);
INSERT INTO outbox_keyed
SELECT * REPLACE (
    coalesce(awake_s, 0) AS awake_s, coalesce(perhaps, 0) AS perhaps, coalesce(refused, false) AS refused,
    coalesce(recipient, '') AS recipient, coalesce(recipient_number, 0) AS recipient_number)
FROM outbox;
DROP TABLE outbox;
ALTER TABLE outbox_keyed RENAME TO outbox;
