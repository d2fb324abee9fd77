"""What is said of one session: its sport, its signals, its altitude."""

SPOKEN = {"intensity_ceiling": "heart-rate ceiling", "no_speed_work": "fast running"}

# Session: altitude.
DEVICE_NAMES_NO_BAROMETER = "the device names no barometer, and neither heart rate nor places confirm it"
CLIMBS_WOULD_BE_WORTH = "its climbs would be worth {speed:.1f} m/s on the level"
SAME_PLACES_LIE_M = "the same places lie {apart:.0f} m apart"
HEART_RATE_GIVES_OF_WHAT = "heart rate gives {percent:.0f} % of what its climbs ask for"

# Session: gait.
CADENCE_AND_SPEED = "cadence and speed"

# Session: sport.
STEPS_MIN_OVER = "{steps:.0f} steps/min over {duration}"
M_S_OVER = "{speed:.1f} m/s over {duration}"
BPM_AGAINST_WALKING = "{bpm:.0f} bpm, {rise:+.0f} against the walking"
IS_NOT_LABELLED = "it is not labelled as a run"
IS_LABELLED_AS_RUN = "it is labelled as a run"
NO_STEP_RATE_IS_KNOWN = "no step rate is known where it was fast"
NO_SPEED_IS_KNOWN = "no speed is known where it was fast"
TOO_LITTLE_HEART_RATE = "too little heart rate is known where it was fast"
BPM_MORE_THAN_WALK = "{bpm:.0f} bpm, more than a walk takes"
BPM_NO_WALK_TO_COMPARE = "{bpm:.0f} bpm, and no walk to compare it with"
BUT_WITH_SPEED = ", but with the speed and cadence of a ride"
WALKED_BY = ", walked by its {by}, and carried for {on_wheels}"
BUT_FASTER_FOR_LONGER = ", but faster for longer than anyone runs"
BUT_WALKED = ", but walked by its {by}"
BUT_MOSTLY_RUN = ", but mostly run by its {by}"
WALKED_BY_2 = ", walked by its {by}"
RUNNING_BY = ", with {running} of running by its {by}"

# Session: verdict.
HEART_RATE_NOT_BELIEVED = "heart rate not believed for {percent:.0f} % of the time"
SPEED_NOT_BELIEVED = "speed not believed for {percent:.0f} % of the running"
NO_HEART_RATE_WAS_RECORDED = "no heart rate was recorded"
HEART_RATE_KNOWN = "heart rate known for {percent:.0f} % of the time only"
NO_SPEED_WAS_RECORDED = "no speed was recorded"
SPEED_KNOWN_FOR_OF_RUNNING = "speed known for {percent:.0f} % of the running only"
