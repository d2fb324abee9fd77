-- How often each entry of a calendar has changed, so that what moved moves in the telephone too.
CREATE TABLE calendar_entry (
    athlete VARCHAR NOT NULL,
    uid VARCHAR NOT NULL,
    sequence INTEGER NOT NULL,        -- only rises
    mark VARCHAR NOT NULL,            -- of what it last said
    changed_at TIMESTAMP NOT NULL
);
