"""What the commands say in the terminal, what is wrong with a command line, and the story of the demo."""

from collections.abc import Sequence

from rules.words.en.amounts import counted

HOW_SURE = {
    "published": "published",
    "convention": "common practice, no source",
    "default": "project default",
}

HELP = """Watches an athlete's exports after a race and warns when a session asks more than the legs are ready for.

Begin with `fallow demo`, or with your own: `fallow init`, then `fallow doctor`,
then `fallow watch`. Every command takes --home and shows an example with --help.

It is no medical advice: with chest pain, fainting, a swollen calf or pain that makes you limp, see a clinician at once.
"""

# Context.
NO_SUCH_NAME = "no {what} {wrong!r} in {where}; did you mean {lowered!r}?"
SEVERAL_FINDINGS_BEGIN = "{start_of_id!r} begins {found} findings: {listed}{more}; give more of the id"
MUST_BE_DATE = "{option} {text!r}: must be a date such as 2026-10-13"
DID_YOU_MEAN = "did you mean {near}?"
SEE_FINDINGS = "`fallow findings` lists them"
NO_FINDING_BEGINS = "no finding begins with {start_of_id!r}; {hint}"
MUST_BE_MOMENT = "--as-of {text!r}: must be a date or a date and time, as in 2026-10-13 or 2026-10-13T18:30+02:00"
STORE_IN_USE = "{name} is in use by another process; this is what it knew before"

# Error lines.
SEE_LOG = "where is in {log}"
SEE_TRACEBACK = "FALLOW_DEBUG=1 shows where"
UNEXPECTED_ERROR = "an error that should not happen ({kind}); {where}"

# Explain.
BELIEVED_TITLE = "Why it is believed"
ADVICE_TITLE = "What to do now"
SEE_ALL = "All else, with the limits and their sources: fallow explain {id} --all"
TIMES_TITLE = "Within the session, from its start and on the clock"
SIGNALS_TITLE = "What each signal says"
HEART_FOR_SPEED_TITLE = "Heart rate for its speed, a matter of the day"
COACH_ADVICE_TITLE = "For the coach"
WITHDRAWN = "Withdrawn on {moment}: newer data tell otherwise."
SCATTER_IS_LARGE = ", more than a heart by itself"
SPORT_LABEL = "sport, as judged"
DRIFT = "{drift} beats at the same speed than in the first"
FADE = "{fades_after_45_min} beats at the same speed than before: it fades"
SCATTER = "{hr_scatter_bpm:g} bpm about its own minutes{sure}"
MORE_TIMES = "and {more} more; --json has them all"

# Findings.
NO_OPEN_FINDINGS = "Nothing is open there."
SEEN = "{each} ({what}) is seen by {who}."
SEEN_ALL_NEEDS_ATHLETE = "seen --all: name an athlete with --athlete, and no finding"
SEEN_NEEDS_IDS = "seen: give ids of findings, or --athlete ID --all (and --until DATE)"
NO_SUCH_FINDINGS = "No findings like that."

# Main.
MUST_BE_WHOLE_NUMBER = "must be a whole number"
MUST_BE_NUMBER = "must be a number"
HOME_WITHOUT_COMMAND = "--home needs a folder and a command, as in `fallow --home DIR status`"
TWO_HYPHENS = "; options begin with two hyphens, as in --json"
YES_NO_OPTIONS = "; options of yes or no stand alone, as in --stairs-unaided or --no-stairs-unaided"
OPTION_MEANT = "; did you mean {near}?"
WRONG_USE = "{message}{message_2}; `{path} --help` shows how"
OPTION_BEFORE_COMMAND = " before the command; options go after it"
CSV_AND_JSON = "--csv and --json: one of the two, for a spreadsheet or for another program"
NO_SUCH_OPTION = "no such option {wrong}"
OUTPUT_NOT_WRITTEN = "what was to be printed could not be written: {why}"
NO_SUCH_COMMAND = "no such command {wrong}"

# Overrides.
STAGE_LASTS = "at least to {last_date}; the plan ends on {plan_ends}"
HELD_OR_RELEASED = "{name} is {word} from {on}, by {by}; kept in the history."
NO_ACTIVE_PLAN = "No plan is active, so nothing moves."

# Passes.
OTHER_KINDS = "; {ignored} of other kinds left alone"
OLD_STORE_KEPT = "the old store is kept as {name}; "
REBUILD_BEGUN = (
    "{kept}the next `fallow scan`, or a running `fallow watch`, reads the folders again; nothing is sent twice"
)
NO_BROWSER = "no browser could be opened; open the file yourself"
FOLDER_MISSING = "{athlete_id}: {reason}; what is known of it is kept"
NOT_TOLD = "could not be told, all else was done: {what}; the log says where it failed"
NEW_IN_THEM = "new in them: {held}"
SEE_INTAKE = "`fallow intake --state unreadable` says why"
SEE_OUTBOX = "`fallow outbox` says what waits and for what"
WATCH_BEGINS = "Ctrl-C ends it. In another terminal `fallow status` says where everybody stands."
BOARD_NOT_WRITTEN = "{name} was not written: {error}"
REBUILD_QUESTION = "Set {store} aside and read all folders again?"
REBUILD_STOPPED = "stopped: holds, marks and what was sent are kept; `fallow rebuild` may be typed again"

# Plans.
PLAN_HEADING = "{name}: {length_days} days after {event}, finish {finish}"
PLAN_MOVED = "; now to day {last_day}, {last_date}"
TODAY = "Today is {date}, day {day}: {stage}."
USUAL_WEEK = "Usual running week: {minutes:.0f} min ({reason})"
END_OF_PLAN = "The end of the plan"
NO_RACE = "{name}: no race on the roster, so nothing is limited; add an [[athlete.race]]"
ON_RAMP_WEEKS = "{usual}; on the on-ramp {allowed} a week."
THIN_DATA = "Data too thin"
OTHER_RACES = "Other races, each with its plan (--race N): {others}."
WHAT_OPENS = "What opens it: {asks}."
OUT_NOT_WRITTEN = "--out {out}: cannot be written ({why})"

# Replay.
LIMIT_ACTS_WHEN_READ = "{when_read}: acts when a file is read, and not on what was read before"
LIMITS_UNREADABLE = "--limits {path}: cannot be read ({why}); name a TOML file of limits"
LIMITS_NO_TOML = "--limits {path}: not valid TOML: {error}"

# Rules.
SEE_RULES = "`fallow rules RULE` and `fallow rules --limits` show every number with its source."

# Screen.
KNOWN_BY_PATH = "This terminal knows `{name}` only as {known}; write that, or activate its environment first."

# Serving.
PERSONAL_LINK = "The personal link of {name}. Whoever has it can read and answer for them."
LINK_PICTURE = "the same as a picture:"
OLD_LINK_IS_VOID = "The link before is void now."
LINK_OF_THIS_MACHINE = "It works on this machine only: [page] of the roster has no url."
LINK_LAST_USED = "last used {moment} UTC"
LINK_UNUSED = "not used yet"
WHOSE_LINK = "whose link? give an ID; `fallow link` lists who has one"
PICTURE_NOT_WRITTEN = "{path}: cannot be written ({why}); make the link anew for a picture"
NO_LINKS = "Nobody has a link yet; `fallow link ID` makes one."
FOLDER_NOT_MADE = "{folder}: cannot be made ({why}); the page needs it"
LINK_IS_VOID = "the link is void."
HAD_NO_LINK = "had no link."

# Status.
PREVIEW_HEADING = "{name}, columns named in line {header_line}:"
PREVIEW_ROWS = "The first {rows} as read:"
PREVIEW_OF_WHOM = "{file} lies in no athlete's folder; say whose table it is with --athlete ID"
PREVIEW_PASSED_OVER = (
    "Passed over: {passed_over}. To take one of them, name it under [athlete.columns] in the roster, as "
    'in: {free} = "{first}"'
)
SLEEP_NOT_TOLD = "sleep not told"
EMPTY_ROSTER = "Nobody is on the roster yet; `fallow init` adds an athlete."
IS_NO_ATHLETE = "{athlete} is no athlete; for how a table would be read: fallow intake {athlete} --preview"
PREVIEW_UNREADABLE = "{file}: {why}; name a table to preview"
PREVIEW_FIELD_LABEL = "is read as"
RESTING_HEART_RATE = "resting heart rate {resting_hr:g} bpm"
PREVIEW_NEEDS_FILE = "--preview needs a file, as in: fallow intake sleep.csv --preview"
NO_ALERT_YET = "No alert yet."
NO_FILE_YET = "No file yet."
NO_FILE = "No file is {state}."

# Demo.
INTRODUCTION = (
    "{name} is invented, and so are her race and these recordings. The program is real: her exports "
    "arrive in a folder, are read into a store and judged against her way back from the race, and alerts "
    "go to a target on this machine. Watch the story; it takes half a minute."
)
END_TITLE = "Where things stand"
HER_PLAN = "Her plan, as it was held"
DEMO_FILES = "{files} files seen. What was not simply read:"
DEMO_MESSAGES = "{sent} of {alerts} messages were sent, each once; reading the same files again sends none."
TRY_NEXT = "What to try next, on the same home:"
TRY_YOURSELF = "And for yourself: {called} init"
RELEASED_BY = 'As with: fallow release {id} --why "{release}"'
NO_NEWS = "Nothing to say: no finding, no alert."

# Demo: what its chapters tell.
EVENING_AFTER_RACE = (
    "The evening after the race. Ten weeks of training, the race and six weeks of nights lie in the "
    "folder and are read for the first time."
)
EASY_WALKS_SO_FAR = "Easy walks so far. Today she saved the way home as a walk, and it was not quite one."
SWIM_AND_RIDE = "A swim and a ride, both fine. Tonight she writes that she takes the stairs by the rail."
CROSS_TRAINING_WOULD_BEGIN = "Cross-training would begin today. The stairs still need the rail."
STAIRS_ARE_FINE = "Stairs are fine. A ride of 52 minutes with coffee in the middle, saved twice."
STRENGTH_WAS_FINE = "Strength was fine. Today's ride ran long, and a second copy of it broke off in the sync."
EVENING_ON_HILL_WITH_FRIENDS = "An evening on the hill with friends."
THREE_SHORT_NIGHTS_LATER = "Three short nights later; the check-in says heavy legs."
COACH_AND_ATHLETE = "Coach and athlete have talked; the coach lets the test runs begin. The first one is easy."
EASY_RIDE = "An easy ride, and a test run in which the sensor showed her step rate, 164, for six minutes."
TALKED_IT_OVER = "talked it over; she has slept, and the hill stays off the list"
NO_SAMPLE_EXPORTS = "sample_exports: not found beside the program; install fallow again, or run it from a checkout"
DEMO_HOME_NOT_EMPTY = "{path}: not empty; the demo wants a new folder, or none to make one itself"


def not_among(what: str, wrong: str, where: object, names: Sequence[str]) -> str:
    """Of a name that is none of those there are."""
    return f"no {what} {wrong!r} in {where}; there are: {', '.join(names) or 'none'}"


def stopped_reading(kept: int) -> str:
    """Said after Ctrl-C, when so many files had been read."""
    return (
        f"stopped: {counted(kept, 'file')} read so far {'is' if kept == 1 else 'are'} kept; "
        "the next `fallow scan` or `fallow watch` goes on from there"
    )


def replayed(found: str, judged: int, changed: str) -> str:
    """What another judgement of the stored sessions came to."""
    return f"{found} on record, {judged} judged again; {changed or 'nothing would change'}."
