"""What the commands say in the terminal, and what is wrong with a command line."""

from collections.abc import Sequence

from rules.numbers import counted

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
NO_IN = "no {what} {wrong!r} in {where}; did you mean {lowered!r}?"
BEGINS_FINDINGS = "{start_of_id!r} begins {found} findings: {listed}{more}; give more of the id"
MUST_BE_DATE_SUCH = "{option} {text!r}: must be a date such as 2026-10-13"
DID_YOU_MEAN = "did you mean {near}?"
FINDINGS_LISTS_THEM = "`fallow findings` lists them"
NO_FINDING_BEGINS = "no finding begins with {start_of_id!r}; {hint}"
AS_OF = "--as-of {text!r}: must be a date or a date and time, as in 2026-10-13 or 2026-10-13T18:30+02:00"
IS_IN_USE_BY_ANOTHER = "{name} is in use by another process; this is what it knew before"

# Error lines.
WHERE_IS = "where is in {log}"
FALLOW_DEBUG_SHOWS = "FALLOW_DEBUG=1 shows where"
ERROR_THAT_SHOULD_NOT_HAPPEN = "an error that should not happen ({kind}); {where}"

# Explain.
WHY_IT_IS_BELIEVED = "Why it is believed"
WHAT_TO_DO_NOW = "What to do now"
ALL_ELSE = "All else, with the limits and their sources: fallow explain {id} --all"
WITHIN_SESSION = "Within the session, from its start and on the clock"
WHAT_EACH_SIGNAL_SAYS = "What each signal says"
HEART_RATE_FOR_SPEED = "Heart rate for its speed, a matter of the day"
FOR_COACH = "For the coach"
WITHDRAWN_ON = "Withdrawn on {moment}: newer data tell otherwise."
SCATTER_TOO_LARGE = ", more than a heart by itself"
SPORT_AS_JUDGED = "sport, as judged"
DRIFT_AT_SAME_SPEED = "{drift} beats at the same speed than in the first"
FADE_AT_SAME_SPEED = "{fades_after_45_min} beats at the same speed than before: it fades"
HEART_RATE_SCATTER = "{hr_scatter_bpm:g} bpm about its own minutes{sure}"
AND_MORE = "and {more} more; --json has them all"

# Findings.
NOTHING_IS_OPEN = "Nothing is open there."
IS_SEEN = "{each} ({what}) is seen by {who}."
SEEN_ALL = "seen --all: name an athlete with --athlete, and no finding"
SEEN_NEEDS_IDS = "seen: give ids of findings, or --athlete ID --all (and --until DATE)"
NO_FINDINGS_LIKE = "No findings like that."

# Main.
MUST_BE_WHOLE_NUMBER = "must be a whole number"
MUST_BE_NUMBER = "must be a number"
HOME_NEEDS_FOLDER = "--home needs a folder and a command, as in `fallow --home DIR status`"
OPTIONS_BEGIN_WITH_HYPHENS = "; options begin with two hyphens, as in --json"
OPTIONS_WITHOUT_VALUE = "; options of yes or no stand alone, as in --stairs-unaided or --no-stairs-unaided"
DID_YOU_MEAN_OPTION = "; did you mean {near}?"
HELP_SHOWS_HOW = "{message}{message_2}; `{path} --help` shows how"
BEFORE_COMMAND = " before the command; options go after it"
CSV_AND_JSON = "--csv and --json: one of the two, for a spreadsheet or for another program"
NO_SUCH_OPTION = "no such option {wrong}"
OUTPUT_COULD_NOT_BE_WRITTEN = "what was to be printed could not be written: {why}"
NO_SUCH_COMMAND = "no such command {wrong}"

# Overrides.
HELD_AT_LEAST_TO = "at least to {last_date}; the plan ends on {plan_ends}"
IS_FROM = "{name} is {word} from {on}, by {by}; kept in the history."
NO_PLAN_IS_ACTIVE = "No plan is active, so nothing moves."

# Passes.
OTHER_KINDS_LEFT_ALONE = "; {ignored} of other kinds left alone"
OLD_STORE_IS_KEPT = "the old store is kept as {name}; "
REBUILT_BY_NEXT_SCAN = (
    "{kept}the next `fallow scan`, or a running `fallow watch`, reads the folders again; nothing is sent twice"
)
NO_BROWSER_COULD_BE_OPENED = "no browser could be opened; open the file yourself"
WHAT_IS_KNOWN = "{athlete_id}: {reason}; what is known of it is kept"
COULD_NOT_BE_TOLD = "could not be told, all else was done: {what}; the log says where it failed"
NEW_IN_THEM = "new in them: {held}"
INTAKE_SAYS_WHY = "`fallow intake --state unreadable` says why"
OUTBOX_SAYS_WHAT_WAITS = "`fallow outbox` says what waits and for what"
CTRL_C_ENDS = "Ctrl-C ends it. In another terminal `fallow status` says where everybody stands."
WAS_NOT_WRITTEN = "{name} was not written: {error}"
REBUILD_QUESTION = "Set {store} aside and read all folders again?"
REBUILD_STOPPED = "stopped: holds, marks and what was sent are kept; `fallow rebuild` may be typed again"

# Plans.
DAYS_AFTER = "{name}: {length_days} days after {event}, finish {finish}"
NOW_TO_DAY = "; now to day {last_day}, {last_date}"
TODAY_IS = "Today is {date}, day {day}: {stage}."
USUAL_RUNNING_WEEK = "Usual running week: {minutes:.0f} min ({reason})"
END_OF_PLAN = "The end of the plan"
NO_RACE_ON_ROSTER = "{name}: no race on the roster, so nothing is limited; add an [[athlete.race]]"
ON_RAMP_WEEK_ALLOWED = "{usual}; on the on-ramp {allowed} a week."
DATA_TOO_THIN = "Data too thin"
OTHER_RACES = "Other races, each with its plan (--race N): {others}."
WHAT_OPENS = "What opens it: {asks}."
OUT_CANNOT_BE_WRITTEN = "--out {out}: cannot be written ({why})"

# Replay.
ACTS_WHEN_FILE_IS_READ = "{when_read}: acts when a file is read, and not on what was read before"
LIMITS_CANNOT_BE_READ = "--limits {path}: cannot be read ({why}); name a TOML file of limits"
LIMITS_NOT_VALID_TOML = "--limits {path}: not valid TOML: {error}"

# Rules.
RULES_SHOW_SOURCES = "`fallow rules RULE` and `fallow rules --limits` show every number with its source."

# Screen.
THIS_TERMINAL_KNOWS = "This terminal knows `{name}` only as {known}; write that, or activate its environment first."

# Serving.
PERSONAL_LINK = "The personal link of {name}. Whoever has it can read and answer for them."
SAME_AS_PICTURE = "the same as a picture:"
LINK_BEFORE_IS_VOID = "The link before is void now."
WORKS_ON_THIS_MACHINE = "It works on this machine only: [page] of the roster has no url."
LAST_USED_UTC = "last used {moment} UTC"
NOT_USED_YET = "not used yet"
WHOSE_LINK = "whose link? give an ID; `fallow link` lists who has one"
CANNOT_BE_WRITTEN = "{path}: cannot be written ({why}); make the link anew for a picture"
NOBODY_HAS_LINK_YET = "Nobody has a link yet; `fallow link ID` makes one."
CANNOT_BE_MADE = "{folder}: cannot be made ({why}); the page needs it"
LINK_IS_VOID = "the link is void."
HAD_NO_LINK = "had no link."

# Status.
COLUMNS_NAMED_IN_LINE = "{name}, columns named in line {header_line}:"
FIRST_AS_READ = "The first {rows} as read:"
TABLE_OF_NOBODY = "{file} lies in no athlete's folder; say whose table it is with --athlete ID"
PASSED_OVER = (
    "Passed over: {passed_over}. To take one of them, name it under [athlete.columns] in the roster, as "
    'in: {free} = "{first}"'
)
SLEEP_NOT_TOLD = "sleep not told"
NOBODY_IS_ON_ROSTER = "Nobody is on the roster yet; `fallow init` adds an athlete."
IS_NO_ATHLETE = "{athlete} is no athlete; for how a table would be read: fallow intake {athlete} --preview"
NAME_TABLE_TO_PREVIEW = "{file}: {why}; name a table to preview"
IS_READ = "is read as"
RESTING_HEART_RATE_BPM = "resting heart rate {resting_hr:g} bpm"
PREVIEW_NEEDS_FILE = "--preview needs a file, as in: fallow intake sleep.csv --preview"
NO_ALERT_YET = "No alert yet."
NO_FILE_YET = "No file yet."
NO_FILE = "No file is {state}."


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
