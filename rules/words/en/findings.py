"""What findings say: the summary that is stored with each, and what stands beside it."""

from __future__ import annotations

# Check-ins.
NOT_MANAGED_UNAIDED = "{capitalize} not managed unaided"
AND_TRAINING = "{text}, and training ({sports}) on the same day"
GROWN_OVER_THREE_CHECK = ", grown over three check-ins: {names}"
FROM_IT_CHANGES_DAYS = "; from {least:g} it changes the day's plan"
CHECK_IN_TELLS = "The check-in tells of {names}: for a doctor to look at, not for training"
ALL_OF = "all of it"
WORDS_WERE_COMPARED_WITH_LIST = "words were compared with a list; this is no diagnosis"
YOU_WROTE = "You wrote {written}: is it still there?"

# Heart and mood that are back too early.
DAY_HEART_AND_MOOD = "Day {number}: heart and mood are back, tendon and bone are not; the plan stands as it is"
DAYS_SINCE_RACE = "days since the race"

# Mornings and nights.
SLEEP_NIGHT = "{mean} of sleep a night, the mean of {nights} nights; under {note:g} h is short"
RESTING_HEART_RATE = (
    "Resting heart rate {before:g} and {now:g} on two mornings running, {over:.0f} over your "
    "usual {middle:g}; from {limit:.1f} it counts as up"
)
RMSSD_HAS_LATELY_BEEN_ABOUT = (
    "RMSSD has lately been about {mean:.0f} ms, your usual {usual:.0f} ms; chance explains down to "
    "{note:.0f} ms. In sizes of the smallest change that matters: {sizes:.1f} under (ln RMSSD "
    "{ln_mean:.2f}, usual {ln_usual:.2f})"
)

# What there is too little data for.
RESTING_HEART_RATE_2 = "resting heart rate"
HEART_RATE_VARIABILITY = "heart-rate variability"
MORNINGS_BEFORE_RACE_THAT_BASELINE = (
    "{name}: {count} of the {needed} mornings before the race that a baseline needs; not judged"
)
RUNNING_WEEK = "running a week: {reason}; not judged"

# Sessions that cannot be judged, and silence.
FILE_DOES_NOT_SAY = "The file does not say {missing}: not held against the limits on running and time"
AFTER_H_OF_SILENCE = "{what}; after {silent_after_hours:g} h of silence in a plan {asks}"
NO_FILE_SINCE = "No file since {told:%Y-%m-%d %H:%M}"
NO_FILE_HAS_EVER = "No file has ever come, awaited since {told:%Y-%m-%d}"
COACH_IS_TOLD = "the coach is told"
SOMEBODY_SHOULD_ASK = "somebody should ask"
HOW_LONG_IT_TOOK = "how long it took"
WHAT_SPORT = "what sport it was"

# Running where the stage has none or less.
RUN_AFTER_RUN = "A run after a run {when}: this stage asks for a day of rest from running between runs"
MEDIAN_OF_WEEKS = "median of {weeks} weeks from {first} to {last}"
RUNNING_THIS_WEEK = "{done} of running this week, where {allowed} are allowed: {share:.0f} % of the usual {minutes}"
RUN_OF_KM = (
    "A run of {km:.2f} km, where {most:.2f} km are allowed: {tenths:g} x the longest since the race, {longest:.2f} km"
)
RUN_OF_NEAR_END = "A run of {minutes} near the end of cross-training: one of up to {cap} min is tolerated"
LONGER_THAN_MIN_THAT_ARE_TOLERATED = "longer than the {cap} min that are tolerated"
OVER_CEILING = "over the ceiling"
THERE_WAS_TOLERATED_RUN = "there was a tolerated run in this stage already"
DAY_BEFORE = "the day before, {before}"
HISTORY_HOLDS_OF_WEEKS = "the history holds {weeks} of the {number} weeks before the taper: no usual week to go by"
MIN_WEEK = "min a week"
NO_RUNNING_IN_MOST = "no running in most weeks before the taper"
NO_HEART_RATE_WAS_RECORDED = "no heart rate was recorded: taken to be under the ceiling"

# Ceiling, ground and running of one session.
UNKNOWN_TIME = "An unknown time"
STRENGTH_WORK_IN_DAYS = "{timer_s} of strength work in the days off, which have none"
TO_WHERE_MIN_DAY = "{what} to {total}, where {cap} min a day are allowed (walking apart)"
RUN_OF = "A run of {minutes}, where {cap} min a run are allowed"
M_UP_AND_M = "{up_m:.0f} m up and {down_m:.0f} m down in {km:.1f} km"
AFTER_FINISH = (
    "{session} {since_finish_s} after the finish, where only walking and mobility have a place for the "
    "first {caution:g} h"
)
WALK_WITH_RUNNING = "A walk with running in it"
YOGA_OR_PILATES_IN_DAYS = "{timer_s} of yoga or pilates in the days off: fine as long as nothing is held hard"
THIS_SESSION_COMES = "This session comes"
THIS_SESSION_DAYS_COME = "With this session the day's {listed} come"
HIGHEST_MINUTE_BPM = ", highest minute {highest} bpm"
IT_STEEP = ", {seconds} of it steep, up to {steepest:.0f} % {way}"
H_AFTER_FINISH = "h after the finish"
ABOVE_BPM = "{total} above {bpm} bpm, longest stretch {longest_s}{top}"
HRMAX_ESTIMATED_FROM_AGE = "HRmax estimated from age; the ceiling may be off by some {off:g} bpm"
ALTITUDE_OF_THIS_RECORDING = "the altitude of this recording wanders, so climb and descent are rough"

# Fast stretches and laps.
NONE_WERE_PRESSED_AROUND = "none were pressed around the stretches"
FAST_LAPS_WERE_PRESSED = "{laps} fast laps were pressed, with slower ones between them"
LAPS_WERE_PRESSED = "laps were pressed where the stretches begin and end"

# Easy speed.
NO_THRESHOLD = "no threshold, sure"

# What kind of fast running it was.
AT_FASTER = "{kind}: {amount} at {speed}{uphill}, {over:.0f} % faster than {name}"
HARD_CLIMB = "a hard climb"
TIME_TRIAL = "a time trial"
FAST_FINISH = "a fast finish"
SUSTAINED_FAST_RUNNING = "sustained fast running"
UPHILL_WORTH_ON_LEVEL = " uphill, worth {effort} on the level"
MOST_PEOPLES_EASY_RUNNING = "most people's easy running"
THRESHOLD_PACE = "your threshold pace"
EASY_RUNNING = "your easy running in this session"
NO_THRESHOLD_IS_KNOWN = "no threshold is known; judged against the easy running of the session itself, confidence low"
THRESHOLD_SPEED = "threshold speed from {basis}, confidence {confidence}"
LOOKS_LIKE = "Looks like {said}; was it?"
NO_THRESHOLD_IS_KNOWN_AND_NONE = (
    "no threshold is known and none of it was slower: judged against what is fast for most runners"
)
ROSTERS_THRESHOLD_PACE_OF_IS_SLOWER = "the roster's threshold pace of {slower} is slower than what was held before"

# What each signal says of fast stretches.
STEPS_MINUTE = "{fast:.0f} steps a minute, {rise:+.0f} against the running around (error {error:.1f})"
M_S_AGAINST_EASY = "{effort:.2f} m/s against {easy:.2f} easy, error {error:.2f} ({source})"
M_S_ON_LEVEL = "{found:.2f} m/s on the level against {easy:.2f} easy; {speed:.2f} over ground"
ROSE_BY_OF_WHAT = "rose by {asked} of what such running asks of it"
NO_EASIER_PART_TO_COMPARE = "no easier part to compare with"
TIMER_STOOD_BESIDE_STRETCHES = "the timer stood beside the stretches"
NOT_KNOWN_AROUND_STRETCHES = "not known around the stretches"
STRETCHES_ARE_TOO_SMALL = "the stretches are too small or short to raise it"
NONE_OF_IT_SLOWER = "{told}, none of it slower"
WANDERS_BY_M_IN_TEN = "{told}; it wanders by {noise_m:.1f} m in ten seconds"

# Today.
NO_RACE_IS_IN_ROSTER = "No race is in the roster: nothing is limited."


def run_in_stage_without(ran: str, label: str | None) -> str:
    """Running where the stage has none; `label`: of the session, where it is no run."""
    if label is None:
        return f"A run of {ran} in a stage without running"
    return f"{ran} of running in a session labelled {label}, in a stage without running"


def looks_like_run_in_stage_without(ran: str, label: str | None) -> str:
    labelled = "" if label is None else f" in a session labelled {label}"
    return f"Looks like {ran} of running{labelled}, in a stage without running; was it?"


# What is said of one session: its sport, its signals, its altitude.

SPOKEN = {"intensity_ceiling": "heart-rate ceiling", "no_speed_work": "fast running"}

# Why an altitude is not believed.
DEVICE_NAMES_NO_BAROMETER = "the device names no barometer, and neither heart rate nor places confirm it"
CLIMBS_WOULD_BE_WORTH = "its climbs would be worth {speed:.1f} m/s on the level"
SAME_PLACES_LIE_M = "the same places lie {apart:.0f} m apart"
HEART_RATE_GIVES_OF_WHAT = "heart rate gives {percent:.0f} % of what its climbs ask for"

# By what running was told from walking.
CADENCE_AND_SPEED = "cadence and speed"

# What sport it was.
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

# What of a session could not be judged.
HEART_RATE_NOT_BELIEVED = "heart rate not believed for {percent:.0f} % of the time"
SPEED_NOT_BELIEVED = "speed not believed for {percent:.0f} % of the running"
WITHOUT_HEART_RATE = "no heart rate was recorded"
HEART_RATE_KNOWN = "heart rate known for {percent:.0f} % of the time only"
NO_SPEED_WAS_RECORDED = "no speed was recorded"
SPEED_KNOWN_FOR_OF_RUNNING = "speed known for {percent:.0f} % of the running only"
