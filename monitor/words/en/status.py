"""Where an athlete stands: status, plan, calendar, who needs a word."""

NEEDS = {"now": "a word now", "today": "a word today", "not": "no word today"}

# What beside the work could not be told.
NOTICE_OF_PLAN = "{id}: how the plan goes on"
NOTICE_OF_UNREADABLE = "{athlete_id}: that files cannot be read"
NOTICE_OF_FIRST_LOOK = "{id}: what the first look brought"
NOTICE_OF_DAY = "{id}: the day's plan"
NOTICE_OF_MORNING = "{id}: the morning's digest"

# Calendar.
CALENDAR_AS_KNOWN = "As it was known when this was fetched; a message that came later stands above it. {above}"
CALENDAR_NAME = "{name}: the way back"
STAGE_DAYS = "Days {first_day} to {last_day} of {length}."
UNLESS_RAN_YESTERDAY = " unless you ran the day before"
IF_NOTHING_HOLDS_BACK = "if nothing holds you back by then, {said}"
WHY_IS_IN_MESSAGES = "Why, and what opens it, is in the messages."
AT_THE_EARLIEST = ", at the earliest"
LONGER_THAN_PLANNED = "{held_days} longer than planned."
WHAT_OPENS = "What opens it: {asks}"

# Plan.
RUN_CAP = ", each run up to {run_cap_min} min"
DAY_CAP = "up to {duration_cap_min} min, walking apart"
CEILING = "up to {ceiling_bpm} bpm"
TIME_DAY = "time a day"

# Questions.
RACE_QUESTION = (
    "was the run of {moment} a race? {reason}. If so add an [[athlete.race]] with finish = "
    "{session_end}; if not, `fallow seen {id}`"
)

# Status.
ROSTER_NOT_VALID = "The roster was edited and is not valid; the last good one is in use. {roster_error}"
FOLDER_MISSING = "The folder of {name} cannot be looked into: {why}."
LAST_ERROR = "; the last error: {error}."

# Triage.
TAPER_IS_DONE = "The reverse taper is done{ended}{marks}."
NOTHING_OPEN = "Nothing open. The last session: {moment}, {what}."
STAGE_AT_THE_EARLIEST = "{stage}, {first} at the earliest"
NO_CHECK_IN = "no check-in"
NO_FILE_YET = "no file yet"
FILE_TODAY = "a file today"
WITHOUT_FILE = "{days} without a file"
ASKS_FOR = "It asks for {what}."
MORE_UNSEEN = "; {unseen} more not marked as seen"
UNSEEN_IN_IT = "; {unseen} in it not marked as seen"
NO_RACE = "No race in the roster, so nothing is limited."
NOTHING_YET = "Nothing has come in yet."
STAIRS_NOT_UNAIDED = "stairs not unaided"
TALK_IT_OVER = "Talk it over"
SLEEP_ON = "Sleep on it"
THEN_RELEASE = "{first}, then `fallow release {id}`."
NOTHING_ON_PAIN = "nothing on pain or stairs"


def answered(kind: str, on: str, by: str) -> str:
    """Of a hold or a release."""
    return f"Answered: {'held' if kind == 'hold' else 'released'} on {on} by {by or 'somebody'}."
