"""Where an athlete stands: status, plan, calendar, who needs a word."""

NEEDS = {"now": "a word now", "today": "a word today", "not": "no word today"}

# Telling.
DAYS_PLAN = "{id}: the day's plan"
MORNINGS_DIGEST = "{id}: the morning's digest"

# Calendar.
WAS_KNOWN = "As it was known when this was fetched; a message that came later stands above it. {above}"
WAY_BACK = "{name}: the way back"
DAYS_TO = "Days {first_day} to {last_day} of {length}."
UNLESS_YOU_RAN_DAY = " unless you ran the day before"
IF_NOTHING_HOLDS = "if nothing holds you back by then, {said}"
WHY_WHAT_OPENS = "Why, and what opens it, is in the messages."
EARLIEST = ", at the earliest"
LONGER_THAN_PLANNED = "{held_days} longer than planned."
WHAT_OPENS = "What opens it: {asks}"

# Plan.
EACH_RUN_UP_TO_MIN = ", each run up to {run_cap_min} min"
UP_TO_MIN = "up to {duration_cap_min} min, walking apart"
UP_TO_BPM = "up to {ceiling_bpm} bpm"
TIME_DAY = "time a day"

# Questions.
WAS_RUN_OF_RACE = (
    "was the run of {moment} a race? {reason}. If so add an [[athlete.race]] with finish = "
    "{session_end}; if not, `fallow seen {id}`"
)

# Status.
ROSTER_WAS_EDITED = "The roster was edited and is not valid; the last good one is in use. {roster_error}"
FOLDER_OF_CANNOT_BE_LOOKED = "The folder of {name} cannot be looked into: {why}."
LAST_ERROR = "; the last error: {error}."

# Triage.
REVERSE_TAPER_IS_DONE = "The reverse taper is done{ended}{marks}."
NOTHING_OPEN = "Nothing open. The last session: {moment}, {what}."
EARLIEST_2 = "{stage}, {first} at the earliest"
NO_CHECK = "no check-in"
NO_FILE_YET = "no file yet"
FILE_TODAY = "a file today"
WITHOUT_FILE = "{days} without a file"
ASKS_FOR = "It asks for {what}."
MORE_NOT_MARKED = "; {unseen} more not marked as seen"
NOT_MARKED_AS_SEEN = "; {unseen} in it not marked as seen"
NO_RACE_IN_ROSTER = "No race in the roster, so nothing is limited."
NOTHING_HAS_COME_IN_YET = "Nothing has come in yet."
STAIRS_NOT_UNAIDED = "stairs not unaided"
TALK_IT_OVER = "Talk it over"
SLEEP_ON = "Sleep on it"
THEN_RELEASE = "{first}, then `fallow release {id}`."
NOTHING_ON_PAIN = "nothing on pain or stairs"


def answered(kind: str, on: str, by: str) -> str:
    """Of a hold or a release."""
    return f"Answered: {'held' if kind == 'hold' else 'released'} on {on} by {by or 'somebody'}."
