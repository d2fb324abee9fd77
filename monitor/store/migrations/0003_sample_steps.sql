-- Time and distance as steps from the row before (the first from nothing): they shrink to almost nothing on disk,
-- where totals that begin anew with every recording do not. Rows of a recording stand in the order of time.
CREATE TABLE sample_steps (
    recording INTEGER NOT NULL,
    t_step_ms INTEGER NOT NULL,
    hr_bpm UTINYINT,
    speed_mmps USMALLINT,
    cadence_dspm USMALLINT,           -- tenths of a step a minute
    distance_step_cm INTEGER,         -- from the last row that knows its distance
    altitude_dm SMALLINT,
    lat_e7 INTEGER,
    lon_e7 INTEGER,
    power_w USMALLINT,
    temperature_c TINYINT
);

INSERT INTO sample_steps
SELECT recording, t_ms - lag(t_ms, 1, 0) OVER in_time, hr_bpm, speed_mmps, cadence_dspm,
    distance_cm - coalesce(lag(distance_cm IGNORE NULLS) OVER in_time, 0), altitude_dm, lat_e7, lon_e7, power_w, temperature_c
FROM sample
WINDOW in_time AS (PARTITION BY recording ORDER BY t_ms)
ORDER BY recording, t_ms;

DROP TABLE sample;

ALTER TABLE sample_steps RENAME TO sample;
