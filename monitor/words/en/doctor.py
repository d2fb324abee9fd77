"""What is said of the program itself: store, journal, locks, the daemon, and all that `fallow doctor` checks."""

from monitor.reasons import reason

DISK_FULL = reason(
    "disk_was_full",
    "The disk of the home folder was full, and nothing could be stored for a while. What came meanwhile is being read"
    " now, nothing is lost. See that there is some space left.",
)
"""Told as soon as it can be told, which is when there is space again; until then the log says it."""

TEST_TITLE = "fallow: a test message"

TEST_BODY = (
    "If you read this, alerts reach you here. They come from fallow, which looks through training after a race and says"
    " what went over the limit and what to do now. Nothing else was sent, and there is nothing to do."
)

# Cron.
SECRETS_NOT_WRITTEN = "{secrets}: could not be written ({why}); nothing was changed"

# Daemon: lock.
WATCH_RUNS_ALREADY = "{path}: another `fallow watch` is at work on this home; stop it first, or use --home"
LOCK_NOT_WRITTEN = "{lock}: cannot be written ({why}); check the home folder"
HOME_WITHOUT_LOCKS = "the home folder's file system has no locks ({why}); use a local one"

# Daemon: loop.
ROSTER_NOT_VALID = reason(
    "roster_not_valid", "The roster was edited and is not valid; the last good one stays in use. {elsewhere}"
)
STEP_FAILS = reason("step_fails", "{step} keeps failing")
STEP_FAILS_AS = reason("step_fails_as", "{step} keeps failing ({said})")
FILES_NOT_STORED = reason("files_not_stored", "{failing} files cannot be stored")

# Doctor.
ROSTER_COUNTS = "athletes: {athletes}, contacts: {contacts}, in {path}"
FOLDER_COUNTS = "files: {files}, the newest of {newest:%Y-%m-%d}; {way}"
STORE_COUNTS = "{sessions} sessions, {found} findings, {megabytes:.1f} MB"
DISK_FREE = "{free:.1f} GB free at {place}"
MEASURE_FOR_SURE = "a measured hr_max makes the ceilings sure"
LISTENED_TO = "changes heard at once"
POLLED = "looked through every minute: its file system tells of no changes"
UPGRADE_TOOK_OUT_ROWS = "; an upgrade took out {rows} rows that stood twice or pointed at nothing ({taken_out})"
BOTH_DECODERS = "fitfast, with fitparse behind it"
ADD_ATHLETE = "add an athlete with `fallow init`"
NOBODY_IS_TOLD = "nobody is told about {unheard}"
GIVE_CONTACTS = "give them `contacts` in the roster"
NO_RACE = "no race, so nothing is limited"
ADD_RACE = "add an [[athlete.race]] with event and finish"
RACE_FAR_AHEAD = "a race that ends in {ahead} days"
CORRECT_RACE_YEAR = "correct its year, unless it is meant"
MEASURE_HR_MAX = "measure hr_max, or give `born` for an estimate"
HR_MAX_IS_ESTIMATED = "hr_max is estimated from age, good to some 10 bpm"
CREATE_OR_MOUNT = "create or mount it, or correct `folder`"
NO_KNOWN_FILE = "{folder}: no file of a known kind yet"
LET_EXPORTS_LAND = "let the exports land there"
FILE_IN_FUTURE = "{says}; the newest file lies in the future"
CHECK_CLOCK = "check this machine's clock"
NAME_COLUMNS = "name its columns under [[athlete.table]] in the roster, or take the file out of the folder"
UPDATE_FALLOW = "update fallow here, or give it another --home"
NO_STORE_YET = "none yet; the first `fallow scan` or `fallow watch` makes it"
ROWS_ARE_READ_AGAIN = "nothing; files whose facts were among them are read again"
OUTBOX_SHOWS_WHY = "`fallow outbox` shows why; mend the channel, then `fallow outbox --retry`"
OUTBOX_SHOWS_WHAT = "`fallow outbox` shows what they wait for"
FREE_SPACE = "free some space; nothing more can be kept"
FREE_SPACE_SOON = "free some space soon"
SET_CLOCK = "set this machine's clock; plans and quiet hours hang on it"
FITPARSE_ONLY = "fitparse only: slower, as good"
NO_FAST_DECODER = "none needed; fitfast has no wheel for here"
START_WATCH = "start `fallow watch`, or run `fallow scan` by cron"
LAST_GOOD_ROSTER = "{since}, with the last good roster: {roster_error}"
MEND_ROSTER = "mend the roster"
LAST_PASS = "{since}; its last pass was {ago} ago"
START_SERVE = "start `fallow serve`, or `fallow watch --serve`"
ON_THIS_MACHINE = ", on this machine only"
NO_HR_MAX = "neither hr_max nor born: effort by feel, no ceiling in bpm"
FILES_ALIKE = " and {alike} like it"
SEE_PREVIEW = "{columns}{passed}; `fallow intake FILE --preview` shows its first rows"
REBUILD = "`fallow rebuild` sets it aside and reads the folders again"
ODD_LINES = "what they told may be told again; nothing else is lost"
NO_LINK = "{says}; nobody has a link"
MAKE_LINK = "make one with `fallow link ID`"
SECRET_NOT_SET = "{unset} is not set in the environment"
INSTALL_LIBRARY = "install it beside fallow, or take the address out of `urls`; other channels are not held up"
UNREADABLE = "cannot be read"
NOBODY_ANSWERS = "nobody answers on {here}"
PRIVATE_NETWORK_ONLY = "let only a private network lead there"
SET_WHERE_FALLOW_RUNS = "set it where fallow runs"
CORRECT_URLS = "correct `urls` in the roster{url}"
NOT_TRIED = "{url}, not tried; --send tries it"


STORE_REBUILT = reason(
    "store_rebuilt",
    "The store was damaged. It was set aside in the home folder, and a new one is read from the folders and the"
    " journal; nothing that was sent is sent again. If this comes back, look after the disk.",
)
"""Told to the owner by whoever finds it."""

BEING_SENT = "a message is being sent; try again in a moment"

SET_ASIDE_BY = reason(
    "store_set_aside_by", "`fallow scan`, `watch` or `rebuild` sets it aside and reads the folders again"
)

# Errors.
SEE_DOCTOR = reason("see_doctor", "`fallow doctor` says what is wrong with it")

# Store: database.
STORE_DAMAGED = reason("store_damaged", "{name}: the store cannot be opened, its file is damaged; {broken_do}")
DATABASE_FAILED = reason("database_failed", "{name}: the database failed ({kind})")
DISK_IS_FULL = reason("disk_is_full", "{name}: the disk is full; free some space, nothing was lost")
NEWER_DATABASE = reason(
    "newer_database", "{name}: written by a newer database engine; update fallow, nothing was touched"
)
UNINSTALLED_COPY = "an uninstalled copy"
NEWER_FALLOW = reason(
    "newer_fallow",
    "{name}: written by a newer fallow ({newer}), and this is {version}; update fallow, nothing was touched",
)

# Store: journal.
JOURNAL_NOT_WRITTEN = reason(
    "journal_not_written", "{name}: cannot be written ({why}); free some space or mend its permissions"
)
JOURNAL_UNREADABLE = reason("journal_unreadable", "{name}: cannot be read ({why}); mend its permissions")
PARTLY_WRITTEN = reason("partly_written", "only a part could be written")

# Store: store lock.
STORE_HELD = reason("store_held", "{name}: another process holds the store; try again in a moment")
GUARD_NOT_WRITTEN = reason("store_guard_not_written", "{name}: cannot be written ({why}); check the home")


def odd_lines(lines: int, kept_in: str) -> str:
    return f"{lines} {'line makes' if lines == 1 else 'lines make'} no sense and were passed over, kept in {kept_in}"
