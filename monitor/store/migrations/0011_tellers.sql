-- Who says the same in a check-in is kept, file by file: where one of them is corrected, the others still say it.

CREATE TABLE checkin_told (
    athlete VARCHAR NOT NULL, date DATE NOT NULL, ordering DOUBLE NOT NULL, fact VARCHAR NOT NULL,
    fact_md5 VARCHAR NOT NULL,        -- stands for the fact in the key: a note may be long
    source VARCHAR NOT NULL, sha256 VARCHAR NOT NULL, mtime_ns BIGINT NOT NULL,
    PRIMARY KEY (athlete, date, fact_md5, source)
);
INSERT INTO checkin_told SELECT * FROM checkin;
DROP TABLE checkin;
ALTER TABLE checkin_told RENAME TO checkin;
