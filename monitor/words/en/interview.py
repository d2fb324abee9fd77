"""The questions of `fallow init`, what is wrong with an answer, and what was written."""

# Cli: interview.
STANDS_ON_ROSTER_ALREADY = (
    "{athlete} stands on the roster already; --event with --finish adds a race, --alert or --contact "
    "somebody to tell, another --athlete ID another athlete"
)
NAME_IS_MISSING = "--name is missing: the athlete's name; in a terminal, `fallow init` asks"
EVENT_WITHOUT_FINISH = "--event without --finish; when did the race end, local time?"
STANDS_ON_ROSTER_ALREADY_EDIT = "--{flag}: {athlete} stands on the roster already; edit {key} in {path}"
FINISH_WITHOUT_EVENT = "--finish without --event; which race was it?"
DESCRIBES_NEW_CONTACT = "{flag} describes a new contact; give --alert URL with it, or edit the roster"
CONTACT_NOBODY_OF_THAT_ID = "--contact {who!r}: nobody of that id is on the roster yet; give --alert URL with it"
ONE_OF = ", or one of: {there}"

# Cli: questions.
EMPTY_ANSWER_TAKES_WHAT = (
    "An empty answer takes what stands in brackets, or skips the question. Ctrl-C ends without a trace."
)
EXPORTS_OF_WATCH = "The exports of watch, scale and sleep land in a folder; a relative one starts at {path}."
WHO_IS_TOLD = "Who is told: {there}, or a new address; several with spaces between"
WHO_READS_THEM = "Who reads them there, athlete or coach"
MUST_BE_COACH = "{text!r}: must be coach or athlete"
Y_OR_N = "y or n"
NAME_OF_ATHLETE = "Name of the athlete"
SHORT_ID = "Short id, for commands"
FOLDER_OF_EXPORTS = "Folder of the exports"
MEASURED_HIGHEST_HEART_RATE = (
    "A measured highest heart rate makes the limits sure; an estimate from age is good to some 10 bpm."
)
YEAR_OF_BIRTH = "Year of birth, for the estimate (empty: go by feel)"
FINISH_LOCAL_TIME_LIKE = "Its finish, local time, like 2026-10-04T13:47"
RESULT_LIKE_EMPTY_SKIP = "Its result, like 3:25:10 (empty: skip)"
HOW_MANY_DAYS_TAPER = "How many days the taper was (empty: by the event)"
IS_DAYS_FROM_NOW = (
    "{text!r}: is {days} days from now; must be {most} at most where nobody can be asked whether it is meant"
)
FINISH_IS_DAYS = "The finish {text} is {days} days from now. Is it meant?"
THEN_GIVE_IT_ONCE = "then give it once more, with the right year"
THIS_ONE_IS_NEEDED = "This one is needed."
ALERTS_GO_TO_ADDRESS = (
    "Alerts go to an address such as mailtos://... (mail), ntfys://... (push), jsons://host/path (your "
    "own); the README says how to get one. ${NAME} keeps a secret out of the roster."
)
WHERE_ALERTS_GO = "Where alerts go (empty: nowhere yet)"
IS_NO_FOLDER = "{path}: is a file; the folder that holds the exports is wanted"
THEN_NAME_FOLDER = "then name the folder that is there"
NAME_OF_COACH = "Name of the coach"
NOBODY_OF_THAT_ID = "{part!r}: nobody of that id is on the roster; there are: {ids}"
IS_NOT_THERE_YET = "{path} is not there yet. Make it?"
HIGHEST_HEART_RATE = "Highest heart rate, measured (empty: not known)"
RACE_EMPTY_NONE_YET = "The race (empty: none yet)"
MUST_BE_WHOLE_NUMBER = "{text!r}: must be a whole number"
MUST_BE_NUMBER = "{text!r}: must be a number"
DISTANCE_IN_KM = "Its distance in km"

# Cli: setup.
ALERT_IS_NOT_SET = "--alert: {named} is not set in the environment"
WHAT_ENDED_MORE_THAN_DAYS = "what ended more than {late_after_days:g} days ago is recorded, not sent"
CAN_BE_READ = "{files} can be read there already; {late}."
IS_ON_ROSTER = "{name} is on the roster:"
EXPORTS_ARE_AWAITED = "Exports are awaited in:"
NEXT_DOCTOR_CHECKS_EVERYTHING = "Next: `fallow doctor` checks everything, `fallow watch` begins."
SET_IT_WHERE_WATCH = "{said}; set it where `fallow watch` runs. No test message can go there before."
IS_CHANGED = "{name} is changed in:"
THAT_FOLDER_WAS_MADE = "That folder was made just now: let them land there."
NOTHING_OF_KNOWN_KIND = "Nothing of a known kind lies there yet."
QUIET_HOURS = "--quiet-hours: they are one for all; edit quiet_hours in {roster}"
NOBODY_IS_TOLD_YET = (
    "Nobody is told yet: add a [[contact]] with its address to {name}, and name it in the athlete's `contacts`."
)
SET_IT = "{said}; set it, then start again, or leave out --send; nothing was written"
TOLD_OF = "Told of {athlete_id}: {name} ({id}), {least}, at {places}"
STOPPED_NOTHING_WAS_WRITTEN = "stopped; nothing was written"
WHY_EACH_LIMIT = "Why each limit is as it is: `fallow plan {athlete_id}`."
IS_NOT_SET_IN_ENVIRONMENT = (
    "{named} is not set in the environment: set it, then ask again; cron would not know it either"
)
VALUES_OF_ARE_KEPT = "the values of {names} are kept in {secrets}, readable by you alone"
SEND_TEST_MESSAGE_NOW = "Send a test message now?"
WHAT_IS_CAUTION = "what is a caution or a stop"
ONLY_STOP = "only a stop"
MORE_WITH_SAME_COLUMNS = "{alike} more with the same columns."

# Cli: typed.
MUST_BE = "{text!r}: must be one of {known}{hint}"
TIME_OF_DAY_IS_MISSING = "{text!r}: the time of day is missing; must be a date and time like 2026-10-04T13:47"
PATH_OF_WINDOWS = "{given}: a path of Windows, and this machine is none; name a folder like /home/you/exports"
IS_NOT = "{given}: is not there, and neither is {parent}; name a folder that is, or make it first"
MUST_BE_DATE = "{text!r}: must be a date and time like 2026-10-04T13:47 or 4.10.2026 13:47"

# Initialise.
ROSTER_OF_FALLOW = (
    "# The roster of fallow: who is watched, and who is told. Edit it freely: a running `fallow watch` "
    "takes up every good\n# edit, and `fallow doctor` checks it. All keys are in the "
    "README.\n\n[alerts]\nquiet_hours = {quiet}         # local time of the athlete; `stop` goes through, "
    "the rest waits for the end\nsilent_after_hours = 72             # no file at all for so long while a "
    "plan is active\nlate_after_days = 7                 # what ended longer ago than this is recorded, "
    "not sent\n"
)
HR_MAX_LEFT_OUT = "hr_max left out: estimated from the year of birth, good to some 10 bpm"
ATHLETE_STANDS_THERE_ALREADY = (
    "{roster}: athlete {id!r} stands there already; another athlete needs another --athlete ID, another "
    "race or contact of this one: `fallow init --athlete {id} --event ... --finish ...`"
)
HAS_SPACE = "{url}: has a space in it; give one address, with %20 for a space that belongs to it"
COULD_NOT_BE_WRITTEN = "{roster}: could not be written ({why}); nothing was changed"
CANNOT_BE_READ = "{roster}: cannot be read; check its permissions and that it is UTF-8 text"
FOLDER_COULD_NOT_BE_MADE = "{path}: the folder could not be made ({why}); give another --folder"
WHERE_ALERTS_GO_IS_READ = "where alerts go; ${NAME} is read from the environment"
LEAST_SEVERITY = "least severity: note, caution or stop"
WHAT_IS_ALLOWED_TODAY = "what is allowed today, at this local time"
WHERE_EXPORTS_LAND = "where the exports land; only read"
MIN_S_PER_KM = "min:s per km, held for about an hour"
LOCAL_TIME_OF_ATHLETE = "local time of the athlete"
REVERSE_TAPER = "the reverse taper is as long as the taper was"
