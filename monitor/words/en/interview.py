"""What is asked in the terminal, by `fallow init` and `fallow checkin`, and what is wrong with an answer."""

# Cli: interview.
ATHLETE_IS_THERE = (
    "{athlete} stands on the roster already; --event with --finish adds a race, --alert or --contact "
    "somebody to tell, another --athlete ID another athlete"
)
NAME_IS_MISSING = "--name is missing: the athlete's name; in a terminal, `fallow init` asks"
EVENT_WITHOUT_FINISH = "--event without --finish; when did the race end, local time?"
VALUE_IS_THERE = "--{flag}: {athlete} stands on the roster already; edit {key} in {path}"
FINISH_WITHOUT_EVENT = "--finish without --event; which race was it?"
FLAG_WITHOUT_ALERT = "{flag} describes a new contact; give --alert URL with it, or edit the roster"
NO_SUCH_CONTACT = "--contact {who!r}: nobody of that id is on the roster yet; give --alert URL with it"
OTHER_CONTACTS = ", or one of: {there}"

# Cli: questions.
HOW_TO_ANSWER = "An empty answer takes what stands in brackets, or skips the question. Ctrl-C ends without a trace."
ABOUT_FOLDER = "The exports of watch, scale and sleep land in a folder; a relative one starts at {path}."
ASK_CONTACTS = "Who is told: {there}, or a new address; several with spaces between"
ASK_READER = "Who reads them there, athlete or coach"
MUST_BE_COACH = "{text!r}: must be coach or athlete"
Y_OR_N = "y or n"
ASK_NAME = "Name of the athlete"
ASK_ID = "Short id, for commands"
ASK_FOLDER = "Folder of the exports"
ABOUT_HR_MAX = "A measured highest heart rate makes the limits sure; an estimate from age is good to some 10 bpm."
ASK_BORN = "Year of birth, for the estimate (empty: go by feel)"
ASK_FINISH = "Its finish, local time, like 2026-10-04T13:47"
ASK_RESULT = "Its result, like 3:25:10 (empty: skip)"
ASK_TAPER = "How many days the taper was (empty: by the event)"
FINISH_TOO_FAR = (
    "{text!r}: is {days} days from now; must be {most} at most where nobody can be asked whether it is meant"
)
ASK_FAR_FINISH = "The finish {text} is {days} days from now. Is it meant?"
GIVE_FINISH_AGAIN = "then give it once more, with the right year"
ANSWER_NEEDED = "This one is needed."
ABOUT_ADDRESSES = (
    "Alerts go to an address such as mailtos://... (mail), ntfys://... (push), jsons://host/path (your "
    "own); the README says how to get one. ${NAME} keeps a secret out of the roster."
)
ASK_ADDRESS = "Where alerts go (empty: nowhere yet)"
FOLDER_IS_A_FILE = "{path}: is a file; the folder that holds the exports is wanted"
NAME_FOLDER_THERE = "then name the folder that is there"
ASK_COACH = "Name of the coach"
NO_SUCH_ID = "{part!r}: nobody of that id is on the roster; there are: {ids}"
ASK_MAKE_FOLDER = "{path} is not there yet. Make it?"
ASK_HR_MAX = "Highest heart rate, measured (empty: not known)"
ASK_RACE = "The race (empty: none yet)"
MUST_BE_WHOLE_NUMBER = "{text!r}: must be a whole number"
MUST_BE_NUMBER = "{text!r}: must be a number"
ASK_DISTANCE = "Its distance in km"

# Cli: setup.
ALERT_NOT_SET = "--alert: {named} is not set in the environment"
OLD_IS_NOT_SENT = "what ended more than {late_after_days:g} days ago is recorded, not sent"
FILES_THERE = "{files} can be read there already; {late}."
ADDED_TO = "{name} is on the roster:"
EXPORTS_GO_TO = "Exports are awaited in:"
WHAT_NEXT = "Next: `fallow doctor` checks everything, `fallow watch` begins."
SET_BEFORE_WATCH = "{said}; set it where `fallow watch` runs. No test message can go there before."
CHANGED_IN = "{name} is changed in:"
FOLDER_MADE = "That folder was made just now: let them land there."
FOLDER_EMPTY = "Nothing of a known kind lies there yet."
QUIET_HOURS_ARE_SET = "--quiet-hours: they are one for all; edit quiet_hours in {roster}"
NOBODY_IS_TOLD_YET = (
    "Nobody is told yet: add a [[contact]] with its address to {name}, and name it in the athlete's `contacts`."
)
SET_AND_START_AGAIN = "{said}; set it, then start again, or leave out --send; nothing was written"
TOLD_OF = "Told of {athlete_id}: {name} ({id}), {least}, at {places}"
STOPPED = "stopped; nothing was written"
SEE_PLAN = "Why each limit is as it is: `fallow plan {athlete_id}`."
SECRET_NOT_SET = "{named} is not set in the environment: set it, then ask again; cron would not know it either"
SECRETS_KEPT = "the values of {names} are kept in {secrets}, readable by you alone"
ASK_SEND_TEST = "Send a test message now?"
FROM_CAUTION = "what is a caution or a stop"
FROM_STOP = "only a stop"
TABLES_ALIKE = "{alike} more with the same columns."

# Cli: typed.
MUST_BE_EVENT = "{text!r}: must be one of {known}{hint}"
TIME_OF_DAY_MISSING = "{text!r}: the time of day is missing; must be a date and time like 2026-10-04T13:47"
PATH_OF_WINDOWS = "{given}: a path of Windows, and this machine is none; name a folder like /home/you/exports"
NO_SUCH_FOLDER = "{given}: is not there, and neither is {parent}; name a folder that is, or make it first"
MUST_BE_MOMENT = "{text!r}: must be a date and time like 2026-10-04T13:47 or 4.10.2026 13:47"

# Initialise.
ROSTER_HEAD = (
    "# The roster of fallow: who is watched, and who is told. Edit it freely: a running `fallow watch` "
    "takes up every good\n# edit, and `fallow doctor` checks it. All keys are in the "
    "README.\n\n[alerts]\nquiet_hours = {quiet}         # local time of the athlete; `stop` goes through, "
    "the rest waits for the end\nsilent_after_hours = 72             # no file at all for so long while a "
    "plan is active\nlate_after_days = 7                 # what ended longer ago than this is recorded, "
    "not sent\n"
)
ROSTER_HR_MAX = "hr_max left out: estimated from the year of birth, good to some 10 bpm"
ID_IS_TAKEN = (
    "{roster}: athlete {id!r} stands there already; another athlete needs another --athlete ID, another "
    "race or contact of this one: `fallow init --athlete {id} --event ... --finish ...`"
)
ADDRESS_WITH_SPACE = "{url}: has a space in it; give one address, with %20 for a space that belongs to it"
ROSTER_NOT_WRITTEN = "{roster}: could not be written ({why}); nothing was changed"
ROSTER_UNREADABLE = "{roster}: cannot be read; check its permissions and that it is UTF-8 text"
FOLDER_NOT_MADE = "{path}: the folder could not be made ({why}); give another --folder"
ROSTER_URLS = "where alerts go; ${NAME} is read from the environment"
ROSTER_RECEIVES = "least severity: note, caution or stop"
ROSTER_DAILY = "what is allowed today, at this local time"
ROSTER_FOLDER = "where the exports land; only read"
ROSTER_THRESHOLD_PACE = "min:s per km, held for about an hour"
ROSTER_FINISH = "local time of the athlete"
ROSTER_TAPER_DAYS = "the reverse taper is as long as the taper was"

SYMPTOMS = (
    "chest pain",
    "fainting",
    "confusion",
    "short of breath at rest",
    "racing heart at rest",
    "dark urine",
    "one swollen calf",
    "fever",
    "severe headache",
    "vomiting",
    "blood in the stool",
    "a numb leg",
    "a blow to the head",
    "pain that makes me limp",
)
"""What is asked for by name, in words that the list of signs knows."""

# Checkins.
EMPTY_CHECK_IN = "a check-in without an answer; nothing was written"
NO_CHECK_IN_FOLDER = "{folder}: the athlete's folder is not there; connect it or create it, then check in again"
NO_SUCH_SIGN = "Nothing told before is called {text!r}."
CHECK_IN_NOT_WRITTEN = "{place}: the check-in could not be written ({why}); nothing was changed"
HOW_TO_ANSWER_SIGN = ". --gone SYMPTOM or --seen-doctor --by NAME answers it."

# Cli: checkins.
CHECK_IN_IS_READ = "It is read at the next `fallow scan`, or at once where `fallow watch` runs."
ASK_STAIRS_AND_SQUAT = "1/5  Can you take stairs without holding on, and do a deep squat without help? (y/n)"
ASK_SORENESS = "2/5  Soreness of the muscles, 0 to 10?"
ASK_PAIN = "3/5  Pain in one place, 0 to 10?"
ASK_SYMPTOMS = (
    "5/5  Anything like chest pain, fainting, fever, dark urine, a swollen calf? (English words, commas between)"
)
BY_WITHOUT_DOCTOR = "--by says which doctor it was; give --seen-doctor with it"
DATE_AHEAD = "--date {date}: lies ahead; a check-in tells of a day up to today, {today}"
SCALE_MUST_BE_NUMBER = "--{name} {text!r}: must be a number from 0 to 10"
ASK_STAIRS = "       Can you take stairs up and down without holding on? (y/n)"
ASK_SQUAT = "       Can you do a deep squat without help? (y/n)"
ASK_DOCTOR = "Has a doctor looked at it? (y/n)"
YES_NO_OR_NOTHING = "       y or n, or nothing to skip"
ASK_GONE = "You told of {told!r} on {day}: is it gone? (y/n)"
NO_ANSWERS_GIVEN = "no answers on standard input; run it in a terminal, or give flags such as --soreness 3 --pain 0"
SCALE_OR_NOTHING = "       a number from 0 to 10, or nothing to skip"

# Overriding.
HOLD_DAYS = "--days {days}: must be from 1 to {longest_hold_days}"
UNDO_TOO_LATE = "only what was answered in the last {undo_minutes} minutes can be taken back"
NOTHING_TO_UNDO = "there is nothing of yours to take back there"
