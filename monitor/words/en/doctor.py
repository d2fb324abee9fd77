"""What `fallow doctor` and the daemon say of the program itself."""

NO_ANSWER = "the folder does not answer"

DISK_FULL = (
    "The disk of the home folder was full, and nothing could be stored for a while. What came meanwhile is being read"
    " now, nothing is lost. See that there is some space left."
)
"""Told as soon as it can be told, which is when there is space again; until then the log says it."""

TEST_TITLE = "fallow: a test message"

TEST_BODY = (
    "If you read this, alerts reach you here. They come from fallow, which looks through training after a race and says"
    " what went over the limit and what to do now. Nothing else was sent, and there is nothing to do."
)

# Cron.
COULD_NOT_BE_WRITTEN = "{secrets}: could not be written ({why}); nothing was changed"

# Daemon: folder monitor.
FOLDER_CANNOT_BE_READ = "the folder cannot be read ({kind})"

# Daemon: lock.
ANOTHER_WATCH = "{path}: another `fallow watch` is at work on this home; stop it first, or use --home"
CANNOT_BE_WRITTEN = "{lock}: cannot be written ({why}); check the home folder"
HOME_WITHOUT_LOCKS = "the home folder's file system has no locks ({why}); use a local one"

# Daemon: loop.
ROSTER_WAS_EDITED = "The roster was edited and is not valid; the last good one stays in use. {elsewhere}"
FILES_CANNOT_BE_STORED = "{failing} files cannot be stored"

# Doctor.
WHO_IS_ON_ROSTER = "athletes: {athletes}, contacts: {contacts}, in {path}"
FILES_NEWEST = "files: {files}, the newest of {newest:%Y-%m-%d}; {way}"
STORE_HOLDS = "{sessions} sessions, {found} findings, {megabytes:.1f} MB"
GB_FREE = "{free:.1f} GB free at {place}"
HR_MAX_MAKES_CEILINGS_SURE = "a measured hr_max makes the ceilings sure"
CHANGES_HEARD_AT_ONCE = "changes heard at once"
LOOKED_THROUGH_EVERY_MINUTE = "looked through every minute: its file system tells of no changes"
UPGRADE_TOOK_OUT_ROWS = "; an upgrade took out {rows} rows that stood twice or pointed at nothing ({taken_out})"
BOTH_DECODERS = "fitfast, with fitparse behind it"
ADD_ATHLETE_WITH_INIT = "add an athlete with `fallow init`"
NOBODY_IS_TOLD_ABOUT = "nobody is told about {unheard}"
GIVE_THEM_CONTACTS_IN_ROSTER = "give them `contacts` in the roster"
NO_RACE = "no race, so nothing is limited"
ADD_RACE = "add an [[athlete.race]] with event and finish"
RACE_THAT_ENDS_IN_DAYS = "a race that ends in {ahead} days"
CORRECT_RACE_YEAR = "correct its year, unless it is meant"
MEASURE_HR_MAX = "measure hr_max, or give `born` for an estimate"
HR_MAX_IS_ESTIMATED = "hr_max is estimated from age, good to some 10 bpm"
CREATE_OR_MOUNT = "create or mount it, or correct `folder`"
NO_FILE_OF_KNOWN = "{folder}: no file of a known kind yet"
LET_EXPORTS_LAND = "let the exports land there"
NEWEST_FILE_LIES_IN_FUTURE = "{says}; the newest file lies in the future"
CHECK_THIS_MACHINES_CLOCK = "check this machine's clock"
NAME_COLUMNS_UNDER_ATHLETE = (
    "name its columns under [[athlete.table]] in the roster, or take the file out of the folder"
)
UPDATE_FALLOW = "update fallow here, or give it another --home"
NONE_YET = "none yet; the first `fallow scan` or `fallow watch` makes it"
ROWS_TAKEN_OUT = "nothing; files whose facts were among them are read again"
OUTBOX_SHOWS_WHY = "`fallow outbox` shows why; mend the channel, then `fallow outbox --retry`"
OUTBOX_SHOWS_WHAT = "`fallow outbox` shows what they wait for"
FREE_SPACE = "free some space; nothing more can be kept"
FREE_SPACE_SOON = "free some space soon"
SET_THIS_MACHINES_CLOCK = "set this machine's clock; plans and quiet hours hang on it"
FITPARSE_ONLY = "fitparse only: slower, as good"
NONE_NEEDED = "none needed; fitfast has no wheel for here"
START_WATCH = "start `fallow watch`, or run `fallow scan` by cron"
LAST_GOOD_ROSTER = "{since}, with the last good roster: {roster_error}"
MEND_ROSTER = "mend the roster"
LAST_PASS_WAS_AGO = "{since}; its last pass was {ago} ago"
START_SERVE = "start `fallow serve`, or `fallow watch --serve`"
ON_THIS_MACHINE = ", on this machine only"
NEITHER_HR_MAX_NOR = "neither hr_max nor born: effort by feel, no ceiling in bpm"
MORE_FILES_LIKE_IT = " and {alike} like it"
INTAKE_SHOWS_FIRST_ROWS = "{columns}{passed}; `fallow intake FILE --preview` shows its first rows"
REBUILD_SETS_IT_ASIDE = "`fallow rebuild` sets it aside and reads the folders again"
ODD_LINES_MAY_REPEAT = "what they told may be told again; nothing else is lost"
NOBODY_HAS_LINK = "{says}; nobody has a link"
MAKE_ONE_WITH_LINK = "make one with `fallow link ID`"
IS_NOT_SET_IN_ENVIRONMENT = "{unset} is not set in the environment"
INSTALL_IT_BESIDE_FALLOW = "install it beside fallow, or take the address out of `urls`; other channels are not held up"
CANNOT_BE_READ = "cannot be read"
NOBODY_ANSWERS = "nobody answers on {here}"
LET_ONLY_PRIVATE_NETWORK = "let only a private network lead there"
SET_IT_WHERE_FALLOW_RUNS = "set it where fallow runs"
CORRECT_URLS_IN_ROSTER = "correct `urls` in the roster{url}"
NOT_TRIED = "{url}, not tried; --send tries it"


def odd_lines(lines: int, kept_in: str) -> str:
    return f"{lines} {'line makes' if lines == 1 else 'lines make'} no sense and were passed over, kept in {kept_in}"
