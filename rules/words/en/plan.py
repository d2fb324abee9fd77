"""What is said of a plan: its stages, ceilings and gates, and of the race file."""

from __future__ import annotations

RUNNING_WORDS = {
    "days_off": "none",
    "cross_training": "none",
    "test_runs": "a day of rest from running between runs",
    "on_ramp": "by weekly share",
}

STRENGTH_WORDS = {"none": "none", "under_ceiling": "under the ceiling", "free": "free"}

# How a plan came about.
STRIDES_IN_LAST_DAYS = "; strides in the last {open_last_days} days"
LONGER_THAN_PLANNED = "{extra} longer than planned"
RUNNING_WEEK = "running a week: {words} of the usual one"
LAST_DAYS_NO_CEILING = "in the last {last} days no ceiling, and strides are fine"

# What a day allows.
HEART_RATE_UP = "heart rate up to {bpm}: {reason}"
MOST_MIN_DAY = "at most {minutes} min a day, walking apart ({source})"
ZONE_BY_FEEL = "zone {zone} by feel, {effort} ({reasons})"
NO_RUNNING = "no running, no strength (project default)"
NO_RUNNING_PROJECT_DEFAULT = "no running (project default)"
RUNS_OF_UP_TO_MIN = "runs of up to {run_cap} min, a day of rest from running between them ({source})"
RUNNING_UP_TO_OF_USUAL = "running up to {percent} % of your usual week ({source})"
NO_RUN_IS_TOLERATED = "no run is tolerated after a stop (project default)"
NO_CEILING = "no ceiling, strides are fine (project default)"
ONE_RUN_OF_UP = "one run of up to {tolerated} min is only noted ({source})"

# What keeps the next stage waiting.
RESTING_HEART_RATE_UP = "resting heart rate up two mornings running, the last on {resting_days}"
MORE_STOPS = "{number} or more stops in this plan, the last on {day}: {wait}"
PAIN_OF = "pain {pain:g} of 10 on {date}"
STOP_ON = "stop on {day}: {hours:g} h of rest, to {until} {clock:%H:%M}"
NOT_MANAGED_UNAIDED = "{name} not managed unaided on {date}"
NEW_RESTING_HEART_RATE = "a new resting heart rate in the morning"
HELD_FOR_COACH = "held for the coach"
RELEASE_BY_COACH = "a release by the coach"
CHECK_IN_THAT_SAYS = "a check-in that says it is gone or seen by a doctor"
NEW_CHECK = "a new check-in (stairs, squat, pain)"
REST_UNTIL = "rest until then"

# How long the plan is.
RUN_UNDER_CONTROL = "run under control: {off} days fewer ({source})"
DAYS_LONG_AS_TAPER = "{taper_days} days, as long as the taper was (common practice, no source)"
DAYS_FOR_KM = "{days} days for {distance_km:g} km ({source})"
CUSTOM_EVENT_NEEDS_DISTANCE = "a custom event needs distance_km"

# Race file.
KM_LONGEST_OF_RUNS = "{km:.1f} km, the longest of {runs} runs, at {share:.0f} % of HRmax on average"
C_IN_MIDDLE_OF_RECORDING = "{temperature_c:.0f} °C in the middle of the recording, from {heat:g} it counts"
C_IN_MIDDLE_OF_RECORDING_UP = "{temperature_c:.0f} °C in the middle of the recording, up to {cold:g} it counts"
M_ABOVE_SEA = "{altitude_m:.0f} m above the sea for half the race, from {high:g} it counts"
M_UP_OR_DOWN = "{climb:.0f} m up or down, {per_km:.0f} m a km, from {steep:g} it counts"


def far_from_race(recorded_km: float, race_km: float, *, less: bool) -> str:
    return f"{recorded_km:.1f} km is {'less' if less else 'more'} than a race of {race_km:g} km should be"


# What is wrong with a file of other limits.

LIST_OF_SUCH_ROWS = "a list of such rows"
LIST_OF = "a list of {length}"
MUST_BE = "{name} = {told}: must be {what}, as {old} is"
MUST_BE_TABLE = "{name} = {told}: must be a table, as {old} is"
NO_SUCH_KEY = "{name}.{unknown}: no such key; there are: {old}"
MUST_BE_OF_SAME_KIND = "{name} = {told}: must be of the same kind as {old}"
MUST_BE_NUMBER = "{name} = {told}: must be a number, as {old} is"
MUST_BE_TABLE_OF_LIMITS = "[{section}]: must be a table of limits"
NUMBER_OUT_OF_RANGE = "{name} = {told}: must be a number from {least:g}{most}, as {old} is"
NO_SUCH_LIMIT = "{name}: no such limit; `fallow rules` lists them"
MUST_BE_WHOLE_NUMBER = "{name} = {told}: must be a whole number, as {old} is"
