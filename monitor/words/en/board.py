"""What the board says: lines, days, charts and what they show."""

from rules.words.en.amounts import duration

KINDS = {"new": "new", "worse": "worse", "answered": "answered", "began": "began a stage", "waits": "began to wait"}
"""In the order in which they are told."""

HEART_DRAWN = (
    "A line over time with the ceiling dashed, what lies above it filled, what is not believed hatched; below it a lane"
    " for each rule with the stretches that made the finding. The session in numbers says the same."
)

SPEED_DRAWN = "A line over time; the stretches judged as fast running are shaded, threshold speed is dashed."

WORTH_DRAWN = " A dotted line tells what climbing is worth on the level."

GROUND_DRAWN = "The height of the ground over time; steep stretches are shaded."


# Athlete pages.
NO_ATHLETE = "{path}: no athlete {athlete!r}, whose finding this is"

# Athlete view.
UNREADABLE_FILE = "the file {path} could not be read: {reason}"
WHAT_OPENS = "{waits} What opens it: {asks}."
MORE_UNREADABLE_FILES = "{more} more files could not be read; `fallow intake` lists them"
DAYS_WITHOUT_ANYTHING = "nothing at all on {empty}"
RESTING_HEART_RATE = "resting heart rate"
HEART_RATE_VARIABILITY = "heart-rate variability"
NO_CHECK_IN = "no check-in since the race: stairs, squat and pain are not known"
CHECK_INS = "check-ins on {days} of {total}, the latest on {date}"
BY_ESTIMATED_HR_MAX = ", by an estimated highest heart rate"
CEILING = "Heart rate up to {bpm} bpm{guess}."
PACE_LIMIT = "No faster than {pace_s_per_km} on the level."
NONE_SINCE_RACE = "no {what} since the race"
NO_HEART_RATE = "{name}: no heart rate"
UNKNOWN_SPORT = "{name}: what sport it was is not known"
HEART_RATE_IS_OPEN = "Heart rate is open."
MISSING_DAYS = "no {what} on {missing} of {total} since the race: {days}"
HEART_RATE_NOT_BELIEVED = "{name}: heart rate not believed for {hr_masked_s}"

# Board page.
PLAN_IS_DONE = "the plan is done"

# Body charts.
MORNINGS_DRAWN = "A dot a morning{over}."
LATEST_NIGHT = "{nights} since the race, the latest {value:g} on {on}."
MEAN_OF_MORNINGS_DRAWN = "A faint dot a morning, a line for the weighted mean of the latest{over}."
COUNTED_SINCE_RACE = "{counted} since the race."
RMSSD_MEAN_NOW = "{counted_words} Weighted mean of the latest now {mean:.0f} ms"
NIGHTS_DRAWN = "A dot a night; dashed lines at the two lengths that count as short."
NIGHTS_SINCE_RACE = "{nights} since the race, {mean} on average; the latest, to {on}, {last}."
TWO_CLOCKS_DRAWN = "Two lines since the race, each the last seven days as a share of a usual week before the race."
SEVEN_DAYS = "Seven days to {on}: {parts} of a usual week"
BAND_AND_UPPER_LINE = " over a band around the usual value; a dashed line where it counts as up"
RESTING_TITLE = "Resting heart rate, mornings"
OVER_ONCE = "over the line once"
OVER_TWICE = "two mornings running: counts as up"
RESTING_AXIS = "Resting heart rate, bpm"
NO_RESTING = "No resting heart rate since the race."
NO_USUAL_RESTING = "{latest} Too few mornings before the race to say what is usual."
BAND_AND_LOWER_LINE = ", over a band around the usual value; a dashed line where it counts as low"
RMSSD_TITLE = "Heart-rate variability (RMSSD), mornings"
RMSSD_AXIS = "Heart-rate variability, RMSSD in ms, log scale"
NO_RMSSD = "No heart-rate variability since the race."
NO_RMSSD_MEAN = "{counted_words} Too few in a week for a mean."
NO_USUAL_RMSSD = "{latest}; too few mornings before the race to say what is usual."
SLEEP_TITLE = "Sleep, hours a night"
SHORT_NIGHT_LINE = "one night under {note:g} h"
SHORT_NIGHTS_LINE = "{nights} nights whose mean is under {note:g} h"
NO_NIGHT_SINCE_RACE = "No night since the race."
TWO_CLOCKS_TITLE = "Two clocks: work of the heart, impact on tendon and bone"
TWO_CLOCKS_LABEL = "Two clocks: heart, and tendon and bone"
NEVER_TWICE_UP = "No two mornings running up."
RMSSD_MEAN_LABEL = "weighted mean of the latest"
WORK_OF_HEART = "work of the heart"
STEPS_BY_THEIR_FORCE = "steps by their force, on tendon and bone"
OWN_BAND = "own band, from the mornings before the race"
LOWER_THAN_CHANCE_EXPLAINS = "lower than chance explains"

# Effort charts.
DAY_MINUTES_DRAWN = (
    "A bar for each day's sessions, a dashed line at each stage's cap. The days in numbers say the same."
)
SESSION_HEART_DRAWN = (
    "An upright line for each session with nine tenths of its heart rates, a dashed line at each stage's "
    "ceiling; below, a bar a day for the minutes above the ceiling."
)
SESSION_HEART = "{on}, {sport}: mostly {low} to {high} bpm, the middle {middle}{above}"
DAY_MINUTES_TITLE = "Minutes of each session against the day's cap"
DAY_MINUTES_LABEL = "Minutes against the day's cap"
COUNTED_OF_CAP = "; {each} of {cap} min count"
OVER_CAP_ON = "{counted_min} min on {date} ({day_cap_min} allowed)"
NO_SESSION_SINCE_RACE = "No session since the race."
OVER_CAP = "{told} Over the cap: {over}."
NO_DAY_OVER_CAP = "{told} No day over its cap."
SESSION_HEART_TITLE = "Heart rate of each session against the day's ceiling, and minutes above it"
SESSION_HEART_LABEL = "Heart rate against the day's ceiling, and minutes above it"
ABOVE_CEILING_ON = "{sport} on {on}, {above_min} min above {ceiling} bpm"
NO_CEILINGS = "No ceiling in bpm on the days of these sessions: effort by feel, or open."
WITHOUT_HEART_RATE = " {without} without heart rate."
RUNNING_ALSO_WITHIN_WALK = "running, also within a walk"
NOT_COUNTED = "beside it: walking and care, which do not count"
HEART_SPAN = "nine tenths of the time, and the middle"
MINUTES_ABOVE_CEILING = "minutes above the ceiling"
ABOVE_CEILING = "Above the ceiling: {over}."
NEVER_ABOVE_CEILING = "No session a minute above its ceiling."
RUNNING_OF_IT = ", of it {running_min} running"

# Findings.
CHECK_IN = "the check-in"
NOT_BELIEVED = "{seconds} not believed and left out"
AGAINST_LIMIT = "against the limit"

# Plan charts.
PLAN_DRAWN = "A ribbon from {first} to {last}, a texture for each stage; below it the ribbon as planned."
FOUR_WEEKS = "The last four weeks: {sessions}, {whole}{run}."
WEEK_SHARE_DRAWN = (
    "A bar for each week of the on-ramp, a dashed line at what the week allows, a dotted one at the usual week."
)
USUAL_WEEK = "The usual week is {minutes} min."
WEEK_OF_RUNNING = "Week from {first}: {done}{allowed} min of running"
RUNS_DRAWN = "A dot for each run since the race; on the on-ramp a dashed line at the longest run that is allowed."
LONGEST_RUN = "The longest since the race: {longest:.1f} {unit}."
PLAN_TITLE = "The reverse taper, day by day"
AS_IT_GOES = "as it goes"
PLAN_LABEL = "The reverse taper"
FOUR_EMPTY_WEEKS = "Nothing in the last four weeks."
RUNNING_OF_WEEKS = ", {running} of it running"
NO_RUNNING_OF_WEEKS = ", none of it running"
WEEK_SHARE_TITLE = "Running of each week against its share of the usual one"
THIS_WEEK = "This week {done} of {allowed} min, {share} % of the usual {minutes}."
WEEK_SHARE_LABEL = "Running a week against its share"
RUNS_TITLE = "Each run against the longest allowed"
RUN_LIMIT_TODAY = " Today up to {most:.1f} {unit}."
TODAY_IS_RACE_DAY = "today, race day"
LONG_RUN_JUMP = "longer than the runs before it allow"
LONGER_THAN_PLANNED = " ({held_days} longer than planned)"
ONE_RUN = "{on}: a run of {km:.1f} {unit}"

# Session charts.
HEART_RANGE = "From {min:.0f} to {max:.0f} bpm, {mean:.0f} on average"
SPEED_RANGE = "{mean} on average while moving, {best} at its fastest"
HEIGHT_RANGE = "Between {min:.0f} and {max:.0f} {unit} above the sea."
HEART_TITLE = "Heart rate over the session"
HEART_AXIS = "Heart rate, bpm"
HEART_NOT_BELIEVED = "Heart rate was recorded, and none of it is believed."
SPEED_TITLE = "Speed over the session"
SPEED_AXIS = "Speed, min:s a {unit}"
FAST_STRETCHES = "; {number} stretches judged as fast running, {duration} in all"
STEEP_STRETCHES = " {number} steep stretches, {duration} in all."
GROUND_TITLE = "Ground under the session"
ABOVE_CEILING_LABEL = "above the ceiling"
WORTH_LABEL = "what it is worth on the level, uphill"
FAST_LABEL = "judged as fast running"

# Session view.
HEART_HATCHED = "Heart rate not believed, hatched in the picture: {parts}. It counts neither above nor below."
NO_HEART_RECORDED = "No heart rate was recorded."
SPEED_RECKONED = "Speed is reckoned from {source}, not the device's own."
NO_SPEED_RECORDED = "No speed was recorded."
SPEED_NOT_BELIEVED = "Speed not believed for {masked}."
STOPPED = "Stopped for {stopped} in {pauses}."
MORE_STRETCHES = "{more} more stretches are in `fallow explain --json`."

# Tables.
GATE_SHUT = "The gate before {before} shut on {since}, {until}: {reasons}."
OPEN_AGAIN = "open again on {until}"

# Two clocks.
RESTING_IS_BACK = "resting heart rate near its usual since {back}; tendon and bone take longer and feel nothing"
IMPACT_LABEL = "impact on tendon and bone"
RESTING_NOT_BACK = "resting heart rate is not back to its usual"
SHARE_OF_USUAL_WEEK = "{name}, last seven days: {percent} % of a usual week"
NO_USUAL_WEEK = "{name}: no usual week known before the race"


def against_chance(latest: str, *, under: bool) -> str:
    """How the mean of heart-rate variability stands to what chance explains."""
    return f"{latest}, {'lower' if under else 'no lower'} than chance explains. Being in the band lifts no limit."


def above_ceiling(seconds: float, ceiling: int) -> str:
    return f"; {duration(seconds) if seconds else 'never'} above the ceiling of {ceiling}"
