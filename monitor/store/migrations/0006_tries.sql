-- Tries that count, messages that may have arrived, and one row for each recipient of an address.
ALTER TABLE outbox ADD COLUMN tried_wall TIMESTAMP;       -- the last try
ALTER TABLE outbox ADD COLUMN awake_s DOUBLE;             -- time awake between the tries
ALTER TABLE outbox ADD COLUMN perhaps INTEGER;            -- tries that left whole and unanswered
ALTER TABLE outbox ADD COLUMN refused BOOLEAN;            -- for good: waits alone
ALTER TABLE outbox ADD COLUMN recipient VARCHAR;          -- a mark, where an address has several
ALTER TABLE outbox ADD COLUMN recipient_number INTEGER;

-- Channels that failed as a whole, until they take a message again.
CREATE TABLE channel_pause (
    contact VARCHAR NOT NULL,
    channel INTEGER NOT NULL,
    failures INTEGER NOT NULL,
    until_wall TIMESTAMP NOT NULL,
    asked BOOLEAN NOT NULL
);
