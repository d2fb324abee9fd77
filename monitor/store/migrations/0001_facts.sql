-- Facts as files tell them, the findings on them, and the history that no file holds.
-- Every TIMESTAMP is UTC without a zone: DuckDB needs an extension for zones, and none is fetched.

CREATE SEQUENCE recording_number;

-- Every path seen and what became of it. The same bytes at two paths are two rows, the second a duplicate.
CREATE TABLE intake (
    athlete VARCHAR NOT NULL,
    path VARCHAR NOT NULL,
    sha256 VARCHAR NOT NULL,          -- '' while nothing could be read
    size BIGINT NOT NULL,
    mtime_ns BIGINT NOT NULL,
    state VARCHAR NOT NULL,           -- read duplicate unreadable ignored waiting
    reason VARCHAR NOT NULL DEFAULT '',
    sessions INTEGER NOT NULL DEFAULT 0,
    nights INTEGER NOT NULL DEFAULT 0,
    mornings INTEGER NOT NULL DEFAULT 0,
    checkins INTEGER NOT NULL DEFAULT 0,
    read_at TIMESTAMP,
    current BOOLEAN NOT NULL DEFAULT true,  -- false once other bytes lie at the path
    arrived_at TIMESTAMP                    -- NULL on first import: then the facts themselves tell when they came
);

-- One activity as one file tells it; the best of those that overlap stand for the session.
CREATE TABLE recording (
    number INTEGER NOT NULL,
    athlete VARCHAR NOT NULL,
    sha256 VARCHAR NOT NULL,
    path VARCHAR NOT NULL,
    part INTEGER NOT NULL,            -- position within the file
    started TIMESTAMP NOT NULL,
    ended TIMESTAMP NOT NULL,
    sport VARCHAR NOT NULL,
    sub_sport VARCHAR NOT NULL,
    timer_s DOUBLE NOT NULL,
    elapsed_s DOUBLE NOT NULL,
    distance_m DOUBLE,
    pauses VARCHAR NOT NULL,          -- JSON [[from_s, to_s], ...]
    utc_offset_s INTEGER,
    format VARCHAR NOT NULL,
    quality DOUBLE NOT NULL,          -- seconds of evidence; the higher is the better recording
    digest VARCHAR NOT NULL           -- JSON of rules.facts.Digest
);

-- Per-second facts as scaled integers: small on disk, exact to the device's resolution.
CREATE TABLE sample (
    recording INTEGER NOT NULL,
    t_ms INTEGER NOT NULL,
    hr_bpm UTINYINT,
    speed_mmps USMALLINT,
    cadence_dspm USMALLINT,           -- tenths of a step a minute
    distance_cm INTEGER,
    altitude_dm SMALLINT,
    lat_e7 INTEGER,
    lon_e7 INTEGER,
    power_w USMALLINT,
    temperature_c TINYINT
);

-- One activity, one truth.
CREATE TABLE session (
    athlete VARCHAR NOT NULL,
    key VARCHAR NOT NULL,
    started TIMESTAMP NOT NULL,
    ended TIMESTAMP NOT NULL,
    sport VARCHAR NOT NULL,
    sub_sport VARCHAR NOT NULL,
    timer_s DOUBLE NOT NULL,
    elapsed_s DOUBLE NOT NULL,
    distance_m DOUBLE,
    source VARCHAR NOT NULL,
    version VARCHAR NOT NULL,
    utc_offset_s INTEGER,
    pauses VARCHAR NOT NULL,
    parts VARCHAR NOT NULL,           -- JSON list of recording numbers, in order of time
    digest VARCHAR NOT NULL
);

CREATE TABLE night (
    athlete VARCHAR NOT NULL, date DATE NOT NULL, bedtime TIMESTAMP, wake TIMESTAMP, total_sleep_min DOUBLE,
    source VARCHAR NOT NULL, sha256 VARCHAR NOT NULL, mtime_ns BIGINT NOT NULL
);

CREATE TABLE morning (
    athlete VARCHAR NOT NULL, date DATE NOT NULL, resting_hr DOUBLE, rmssd_ms DOUBLE,
    source VARCHAR NOT NULL, sha256 VARCHAR NOT NULL, mtime_ns BIGINT NOT NULL
);

CREATE TABLE checkin (
    athlete VARCHAR NOT NULL, date DATE NOT NULL, ordering DOUBLE NOT NULL, fact VARCHAR NOT NULL,
    source VARCHAR NOT NULL, sha256 VARCHAR NOT NULL, mtime_ns BIGINT NOT NULL
);

-- What the samples of one session gave under one context; judging again under the same context reads this.
CREATE TABLE verdict (
    athlete VARCHAR NOT NULL, key VARCHAR NOT NULL, context VARCHAR NOT NULL, breaches VARCHAR NOT NULL
);

CREATE TABLE finding (
    id VARCHAR NOT NULL,
    athlete VARCHAR NOT NULL,
    rule VARCHAR NOT NULL,
    severity VARCHAR NOT NULL,
    date DATE NOT NULL,
    subject_end TIMESTAMP NOT NULL,
    fact VARCHAR NOT NULL,            -- JSON of rules.findings.Finding
    found_at TIMESTAMP NOT NULL,
    changed_at TIMESTAMP NOT NULL,
    withdrawn_at TIMESTAMP,
    renamed_to VARCHAR                -- the id this finding has now, when a better recording moved its start
);

CREATE TABLE mark (
    finding VARCHAR NOT NULL, marked_by VARCHAR NOT NULL, note VARCHAR NOT NULL, marked_at TIMESTAMP NOT NULL
);

CREATE TABLE hold (
    athlete VARCHAR NOT NULL, kind VARCHAR NOT NULL, on_date DATE NOT NULL, days INTEGER, why VARCHAR NOT NULL,
    held_by VARCHAR NOT NULL, held_at TIMESTAMP NOT NULL
);

-- Facts were stored that no judgement has seen yet; removed in the transaction that judges them.
CREATE TABLE unjudged (athlete VARCHAR NOT NULL, since DATE NOT NULL);

-- Under what an athlete was last judged: another roster entry, limits file or day asks for a new judgement.
CREATE TABLE judged (athlete VARCHAR NOT NULL, fingerprint VARCHAR NOT NULL, judged_at TIMESTAMP NOT NULL);
