-- What is told to whom. Columns named *_wall are real time, also when judging as of another moment.

CREATE SEQUENCE outbox_number;
CREATE SEQUENCE decision_number;

-- One message to one channel of one contact. Rows of one channel go out in the order of their numbers.
CREATE TABLE outbox (
    id VARCHAR NOT NULL,
    number BIGINT NOT NULL,
    athlete VARCHAR NOT NULL,             -- '' when it is about the program itself
    contact VARCHAR NOT NULL,
    channel INTEGER NOT NULL,             -- position among the contact's URLs, from 1
    channel_shown VARCHAR NOT NULL,       -- the URL without anything secret
    kind VARCHAR NOT NULL,                -- alert daily stage notice
    severity VARCHAR NOT NULL,
    items VARCHAR NOT NULL,               -- JSON of the alerts in it, from which title and body are composed
    findings VARCHAR NOT NULL,            -- JSON list of finding ids
    once VARCHAR,                         -- the key in told_once, for what is told a single time
    title VARCHAR NOT NULL,
    body VARCHAR NOT NULL,
    state VARCHAR NOT NULL,               -- waiting held sent failed
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
    journaled BOOLEAN NOT NULL DEFAULT false
);

-- What was decided about a finding for a contact, and why. `told` is the severity told (1 note, 2 caution, 3 stop),
-- 0 when it was taken back, and null when the decision was not to tell.
CREATE TABLE decision (
    number BIGINT NOT NULL,
    athlete VARCHAR NOT NULL,
    contact VARCHAR NOT NULL,
    finding VARCHAR NOT NULL,
    rule VARCHAR NOT NULL,
    subject_kind VARCHAR NOT NULL,
    subject_start TIMESTAMP NOT NULL,
    subject_end TIMESTAMP NOT NULL,
    severity VARCHAR NOT NULL,
    told INTEGER,
    reason VARCHAR NOT NULL,
    decided_at TIMESTAMP NOT NULL
);

-- Keys of what is told a single time: a day's plan, a stage that begins, a trouble of the program, a first import.
CREATE TABLE told_once (
    key VARCHAR NOT NULL,
    noted_at TIMESTAMP NOT NULL,
    replayed BOOLEAN NOT NULL DEFAULT false,  -- read back from the journal
    owed BOOLEAN NOT NULL DEFAULT false       -- still to be written to the journal
);
