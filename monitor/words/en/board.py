"""What the board says: lines, days, charts and what they show."""

from rules.numbers import duration

KINDS = {"new": "new", "worse": "worse", "answered": "answered", "began": "began a stage", "waits": "began to wait"}
"""In the order in which they are told."""

HEART_DRAWN = (
    "A line over time with the ceiling dashed, what lies above it filled, what is not believed hatched; below it a lane"
    " for each rule with the stretches that made the finding. The session in numbers says the same."
)

SPEED_DRAWN = "A line over time; the stretches judged as fast running are shaded, threshold speed is dashed."

WORTH_DRAWN = " A dotted line tells what climbing is worth on the level."

GROUND_DRAWN = "The height of the ground over time; steep stretches are shaded."

DAY_HEADS = ("day", "date", "stage", "sessions", "min of cap", "min over bpm", "resting", "RMSSD", "sleep")

# Athlete pages.
NO_ATHLETE = "{path}: no athlete {athlete!r}, whose finding this is"

# Athlete view.
FILE_COULD_NOT_BE_READ = "the file {path} could not be read: {reason}"
WHAT_OPENS = "{waits} What opens it: {asks}."
MORE_FILES_COULD_NOT_BE_READ = "{more} more files could not be read; `fallow intake` lists them"
NOTHING_AT_ALL = "nothing at all on {empty}"
RESTING_HEART_RATE = "resting heart rate"
HEART_RATE_VARIABILITY = "heart-rate variability"
NO_CHECK_IN_SINCE = "no check-in since the race: stairs, squat and pain are not known"
CHECK_INS = "check-ins on {days} of {total}, the latest on {date}"
BY_ESTIMATED_HR_MAX = ", by an estimated highest heart rate"
HEART_RATE_UP_TO_BPM = "Heart rate up to {bpm} bpm{guess}."
NO_FASTER = "No faster than {pace_s_per_km} on the level."
NO_SINCE_RACE = "no {what} since the race"
NO_HEART_RATE = "{name}: no heart rate"
WHAT_SPORT_IT_WAS_IS_NOT_KNOWN = "{name}: what sport it was is not known"
HEART_RATE_IS_OPEN = "Heart rate is open."
MISSING_DAYS = "no {what} on {missing} of {total} since the race: {days}"
HEART_RATE_NOT_BELIEVED = "{name}: heart rate not believed for {hr_masked_s}"

# Board page.
PLAN_IS_DONE = "the plan is done"

# Body charts.
MORNINGS_DRAWN = "A dot a morning{over}."
SINCE_RACE = "{nights} since the race, the latest {value:g} on {on}."
MEAN_OF_MORNINGS_DRAWN = "A faint dot a morning, a line for the weighted mean of the latest{over}."
COUNTED_SINCE_RACE = "{counted} since the race."
WEIGHTED_MEAN_OF_LATEST = "{counted_words} Weighted mean of the latest now {mean:.0f} ms"
NIGHTS_DRAWN = "A dot a night; dashed lines at the two lengths that count as short."
NIGHTS_SINCE_RACE = "{nights} since the race, {mean} on average; the latest, to {on}, {last}."
TWO_CLOCKS_DRAWN = "Two lines since the race, each the last seven days as a share of a usual week before the race."
SEVEN_DAYS = "Seven days to {on}: {parts} of a usual week"
OVER_USUAL_BAND_UP = " over a band around the usual value; a dashed line where it counts as up"
RESTING_HEART_RATE_MORNINGS = "Resting heart rate, mornings"
OVER_LINE_ONCE = "over the line once"
TWO_MORNINGS_RUNNING = "two mornings running: counts as up"
RESTING_HEART_RATE_BPM = "Resting heart rate, bpm"
NO_RESTING_HEART_RATE = "No resting heart rate since the race."
TOO_FEW_MORNINGS_FOR_USUAL = "{latest} Too few mornings before the race to say what is usual."
OVER_USUAL_BAND_LOW = ", over a band around the usual value; a dashed line where it counts as low"
HEART_RATE_VARIABILITY_RMSSD = "Heart-rate variability (RMSSD), mornings"
HEART_RATE_VARIABILITY_RMSSD_IN_MS = "Heart-rate variability, RMSSD in ms, log scale"
NO_HEART_RATE_VARIABILITY = "No heart-rate variability since the race."
TOO_FEW_FOR_A_MEAN = "{counted_words} Too few in a week for a mean."
TOO_FEW_MORNINGS_BEFORE_RACE = "{latest}; too few mornings before the race to say what is usual."
SLEEP_HOURS_NIGHT = "Sleep, hours a night"
ONE_NIGHT_UNDER_H = "one night under {note:g} h"
NIGHTS_WHOSE_MEAN = "{nights} nights whose mean is under {note:g} h"
NO_NIGHT_SINCE_RACE = "No night since the race."
TWO_CLOCKS = "Two clocks: work of the heart, impact on tendon and bone"
TWO_CLOCKS_HEART_TENDON = "Two clocks: heart, and tendon and bone"
NO_TWO_MORNINGS_RUNNING = "No two mornings running up."
WEIGHTED_MEAN_OF_LATEST_2 = "weighted mean of the latest"
WORK_OF_HEART = "work of the heart"
STEPS_BY_THEIR_FORCE = "steps by their force, on tendon and bone"
OWN_BAND = "own band, from the mornings before the race"
LOWER_THAN_CHANCE_EXPLAINS = "lower than chance explains"

# Effort charts.
BAR_FOR_EACH_DAYS = (
    "A bar for each day's sessions, a dashed line at each stage's cap. The days in numbers say the same."
)
UPRIGHT_LINE_FOR_EACH = (
    "An upright line for each session with nine tenths of its heart rates, a dashed line at each stage's "
    "ceiling; below, a bar a day for the minutes above the ceiling."
)
MOSTLY_TO_BPM = "{on}, {sport}: mostly {low} to {high} bpm, the middle {middle}{above}"
MINUTES_OF_EACH_SESSION = "Minutes of each session against the day's cap"
MINUTES_AGAINST_DAYS_CAP = "Minutes against the day's cap"
MIN_COUNT = "; {each} of {cap} min count"
MIN_ON = "{counted_min} min on {date} ({day_cap_min} allowed)"
NO_SESSION_SINCE_RACE = "No session since the race."
OVER_CAP = "{told} Over the cap: {over}."
NO_DAY_OVER_CAP = "{told} No day over its cap."
HEART_RATE_OF_EACH = "Heart rate of each session against the day's ceiling, and minutes above it"
HEART_RATE_AGAINST_DAYS = "Heart rate against the day's ceiling, and minutes above it"
ON_MIN_ABOVE_BPM = "{sport} on {on}, {above_min} min above {ceiling} bpm"
NO_CEILING_IN_BPM = "No ceiling in bpm on the days of these sessions: effort by feel, or open."
WITHOUT_HEART_RATE = " {without} without heart rate."
RUNNING_ALSO_WITHIN_WALK = "running, also within a walk"
BESIDE_IT = "beside it: walking and care, which do not count"
NINE_TENTHS_OF_TIME = "nine tenths of the time, and the middle"
MINUTES_ABOVE_CEILING = "minutes above the ceiling"
ABOVE_CEILING = "Above the ceiling: {over}."
NO_SESSION_MINUTE_ABOVE = "No session a minute above its ceiling."
IT_RUNNING = ", of it {running_min} running"

# Findings.
CHECK_IN = "the check-in"
NOT_BELIEVED_AND_LEFT = "{seconds} not believed and left out"
AGAINST_LIMIT = "against the limit"

# Plan charts.
RIBBON_FROM = "A ribbon from {first} to {last}, a texture for each stage; below it the ribbon as planned."
LAST_FOUR_WEEKS = "The last four weeks: {sessions}, {whole}{run}."
BAR_FOR_EACH_WEEK = (
    "A bar for each week of the on-ramp, a dashed line at what the week allows, a dotted one at the usual week."
)
USUAL_WEEK_IS_MIN = "The usual week is {minutes} min."
WEEK_FROM = "Week from {first}: {done}{allowed} min of running"
DOT_FOR_EACH_RUN = "A dot for each run since the race; on the on-ramp a dashed line at the longest run that is allowed."
LONGEST_SINCE_RACE = "The longest since the race: {longest:.1f} {unit}."
REVERSE_TAPER = "The reverse taper, day by day"
IT_GOES = "as it goes"
REVERSE_TAPER_2 = "The reverse taper"
NOTHING_IN_LAST_FOUR = "Nothing in the last four weeks."
IT_RUNNING_2 = ", {running} of it running"
NONE_OF_IT_RUNNING = ", none of it running"
RUNNING_OF_EACH_WEEK = "Running of each week against its share of the usual one"
THIS_WEEK_OF_MIN = "This week {done} of {allowed} min, {share} % of the usual {minutes}."
RUNNING_WEEK_AGAINST_SHARE = "Running a week against its share"
EACH_RUN_AGAINST_LONGEST = "Each run against the longest allowed"
TODAY_UP = " Today up to {most:.1f} {unit}."
TODAY_RACE_DAY = "today, race day"
LONGER_THAN_RUNS_BEFORE = "longer than the runs before it allow"
LONGER_THAN_PLANNED = " ({held_days} longer than planned)"
RUN_OF = "{on}: a run of {km:.1f} {unit}"

# Session charts.
FROM_TO_BPM = "From {min:.0f} to {max:.0f} bpm, {mean:.0f} on average"
ON_AVERAGE_WHILE_MOVING = "{mean} on average while moving, {best} at its fastest"
BETWEEN_AND_ABOVE_SEA = "Between {min:.0f} and {max:.0f} {unit} above the sea."
HEART_RATE_OVER_SESSION = "Heart rate over the session"
HEART_RATE = "Heart rate, bpm"
HEART_RATE_WAS_RECORDED = "Heart rate was recorded, and none of it is believed."
SPEED_OVER_SESSION = "Speed over the session"
SPEED_MIN_S = "Speed, min:s a {unit}"
STRETCHES_JUDGED_AS_FAST = "; {number} stretches judged as fast running, {duration} in all"
STEEP_STRETCHES = " {number} steep stretches, {duration} in all."
GROUND_UNDER_SESSION = "Ground under the session"
ABOVE_CEILING_2 = "above the ceiling"
WHAT_IT_IS_WORTH = "what it is worth on the level, uphill"
JUDGED_AS_FAST_RUNNING = "judged as fast running"

# Session view.
HEART_RATE_NOT_BELIEVED_HATCHED = (
    "Heart rate not believed, hatched in the picture: {parts}. It counts neither above nor below."
)
NO_HEART_RATE_WAS_RECORDED = "No heart rate was recorded."
SPEED_IS_RECKONED = "Speed is reckoned from {source}, not the device's own."
NO_SPEED_WAS_RECORDED = "No speed was recorded."
SPEED_NOT_BELIEVED = "Speed not believed for {masked}."
STOPPED_FOR = "Stopped for {stopped} in {pauses}."
MORE_STRETCHES_ARE_IN_EXPLAIN = "{more} more stretches are in `fallow explain --json`."

# Tables.
GATE_BEFORE_SHUT = "The gate before {before} shut on {since}, {until}: {reasons}."
OPEN_AGAIN = "open again on {until}"

# Two clocks.
RESTING_HEART_RATE_NEAR = "resting heart rate near its usual since {back}; tendon and bone take longer and feel nothing"
IMPACT_ON_TENDON = "impact on tendon and bone"
RESTING_HEART_RATE_IS_NOT_BACK = "resting heart rate is not back to its usual"
LAST_SEVEN_DAYS = "{name}, last seven days: {percent} % of a usual week"
NO_USUAL_WEEK_KNOWN = "{name}: no usual week known before the race"


def against_chance(latest: str, *, under: bool) -> str:
    """How the mean of heart-rate variability stands to what chance explains."""
    return f"{latest}, {'lower' if under else 'no lower'} than chance explains. Being in the band lifts no limit."


def above_ceiling(seconds: float, ceiling: int) -> str:
    return f"; {duration(seconds) if seconds else 'never'} above the ceiling of {ceiling}"
