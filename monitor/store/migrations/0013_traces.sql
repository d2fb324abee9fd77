-- What the pictures of a session are drawn from: lines of few points, packed when its samples were cleaned for the verdict.
-- Where there is none, as in a store made before, the samples are cleaned again to be drawn.
CREATE TABLE trace (
    athlete VARCHAR NOT NULL, key VARCHAR NOT NULL,
    made_from VARCHAR NOT NULL,       -- names everything that the lines hang on
    packed BLOB NOT NULL,
    PRIMARY KEY (athlete, key)
);
