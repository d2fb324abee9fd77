"""What the pages on the phone say."""

from collections.abc import Sequence

SCALES = (
    ("soreness", "Soreness of the muscles", "none", "worst"),
    ("pain", "Pain in one place", "none", "worst"),
    ("energy", "Energy", "none", "full"),
    ("mood", "Mood", "low", "high"),
)

YES_NO = (
    ("stairs_unaided", "Stairs up and down without holding on?"),
    ("squat_unaided", "A deep squat without help?"),
)

WHY_NOT_WRITTEN = "Your folder cannot be written to just now. Tell whoever runs this, and send it again later."

REASONS = ("talked it over", "seen by a physiotherapist", "seen by a doctor", "the recording is wrong")
"""Reasons of a release that are one tap."""

NOTES = ("talked", "rests", "will watch it")

OPEN_YOUR_LINK = (
    "Open your personal link once on this device; after that this address works by itself.",
    "Who has none, or has lost it, asks whoever runs this for a new one.",
)

# Answers.
THAT_WAS_NOT_DONE = "That was not done"
NOTHING_WAS_NAMED_TO_BE_MARKED = "Nothing was named to be marked."
SOMETHING_THERE_HAS_CHANGED = "something there has changed meanwhile; look at it again"
RELEASE_ASKS_FOR_REASON = "a release asks for its reason"
THAT_MOMENT_IS_NOT_RIGHT = "That moment is not right."

# App.
THIS_LINK_LEADS_NOWHERE = "This link leads nowhere. Ask whoever gave it to you for a new one."
CLOSED_ON_THIS_DEVICE = "Closed on this device"
PERSONAL_LINK_OPENS = "Your personal link opens it again."
THAT_DID_NOT_GO = "That did not go through"
NOT_JUST_NOW = "Not just now"
PROGRAM_IS_BUSY = "The program is busy or cannot read its store. Try again."
SOMETHING_WENT_WRONG = "Something went wrong"
WAS_NOTED = "It was noted. Try again, and tell whoever runs this."

# Athlete.
THAT_WAS_NOT_SENT = "That was not sent"
OPEN_CHECK_IN_ANEW = "Open the check-in anew, please."
FOLDER_FOR_CHECK_INS = "the folder for check-ins is not there"
MUST_BE_NUMBER = "{name}: must be a number from 0 to 10"
NOTHING_WAS_WRITTEN = "; nothing was written"
NO_FOLDER_FOR_CHECK = "no folder for check-ins ({why})"
THAT_NO_LONGER_HOLDS = "That no longer holds"
NEWER_DATA_DOES_NOT_BEAR = "Newer data does not bear it out."
THAT_WAS_NOT_WRITTEN = "That was not written down"

# Context.
SERVED_ONLY = "served only with one"
THERE_IS_NO_SUCH = "There is no such page, or it is not yours."
NOT_OPEN = "Not open on this device"
DID_NOT_COME = "It did not come from a page of yours. Open the page anew."
NUMBER_IS_NOT_RIGHT = "A number is not right."

# Guard.
TOO_MANY_HEADERS = "Too many headers."
HEADERS_TOO_LONG = "Headers too long."
NOTHING_HERE = "Nothing here by this name."
TOO_OFTEN = "Too often; wait a minute."

# Links.
IS_ATHLETE_AND_COACH = "{named!r} is an athlete and a coach; write athlete:{named} or coach:{named}"
CANNOT_BE_WRITTEN = "{links}: cannot be written ({why}); no link was changed"
IS_NO_LIST_OF_LINKS = "{path}: is no list of links; move it away, then make the links anew"

# Server.
HAS_NO_PAGE = '{path}: has no [page]; write [page] and below it url = "https://..." to have one'
CANNOT_BE_LISTENED = "{host}:{port}: cannot be listened on ({why}); see listen of [page]"

# Upload.
KIND_NOT_READ = "not a kind of file that is read: FIT, TCX, GPX, CSV, JSON, RR intervals as text, or these in a ZIP"
EMPTY_FILE = "an empty file"
FILE_TOO_LARGE = "{size:.0f} MB, more than the {most:.0f} MB such a file may have"
FOLDER_IS_NOT_THERE = "your folder is not there just now; send it again later"
DISK_IS_NEARLY_FULL = "the disk is nearly full; tell whoever runs this"
COULD_NOT_BE_READ = "could not be read"
COULD_NOT_BE_WRITTEN = "it could not be written; send it again later"
ON_WAY = "on its way"


def nobody(named: str, where: object, names: Sequence[str]) -> str:
    return f"nobody {named!r} in {where}; there are: {', '.join(names) or 'none'}"
