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
NOT_DONE = "That was not done"
NOTHING_NAMED = "Nothing was named to be marked."
CHANGED_MEANWHILE = "something there has changed meanwhile; look at it again"
RELEASE_WITHOUT_REASON = "a release asks for its reason"
WRONG_MOMENT = "That moment is not right."

# App.
VOID_LINK = "This link leads nowhere. Ask whoever gave it to you for a new one."
CLOSED = "Closed on this device"
LINK_OPENS_AGAIN = "Your personal link opens it again."
DID_NOT_GO_THROUGH = "That did not go through"
NOT_JUST_NOW = "Not just now"
PROGRAM_IS_BUSY = "The program is busy or cannot read its store. Try again."
SOMETHING_WENT_WRONG = "Something went wrong"
NOTED_IN_LOG = "It was noted. Try again, and tell whoever runs this."

# Athlete.
NOT_SENT = "That was not sent"
FORM_USED = "Open the check-in anew, please."
NO_CHECK_IN_FOLDER = "the folder for check-ins is not there"
MUST_BE_NUMBER = "{name}: must be a number from 0 to 10"
NOTHING_WAS_WRITTEN = "; nothing was written"
CHECK_IN_FOLDER_NOT_MADE = "no folder for check-ins ({why})"
FINDING_WITHDRAWN = "That no longer holds"
WHY_WITHDRAWN = "Newer data does not bear it out."
NOT_WRITTEN = "That was not written down"

# Context.
NEEDS_PAGE_SECTION = "served only with one"
NO_SUCH_PAGE = "There is no such page, or it is not yours."
NOT_OPEN = "Not open on this device"
FOREIGN_FORM = "It did not come from a page of yours. Open the page anew."
WRONG_NUMBER = "A number is not right."

# Guard.
TOO_MANY_HEADERS = "Too many headers."
HEADERS_TOO_LONG = "Headers too long."
NOTHING_HERE = "Nothing here by this name."
TOO_OFTEN = "Too often; wait a minute."

# Links.
ATHLETE_OR_COACH = "{named!r} is an athlete and a coach; write athlete:{named} or coach:{named}"
LINKS_NOT_WRITTEN = "{links}: cannot be written ({why}); no link was changed"
NO_LIST_OF_LINKS = "{path}: is no list of links; move it away, then make the links anew"

# Server.
NO_PAGE_SECTION = '{path}: has no [page]; write [page] and below it url = "https://..." to have one'
CANNOT_LISTEN = "{host}:{port}: cannot be listened on ({why}); see listen of [page]"

# Upload.
KIND_NOT_READ = "not a kind of file that is read: FIT, TCX, GPX, CSV, JSON, RR intervals as text, or these in a ZIP"
EMPTY_FILE = "an empty file"
FILE_TOO_LARGE = "{size:.0f} MB, more than the {most:.0f} MB such a file may have"
FOLDER_IS_NOT_THERE = "your folder is not there just now; send it again later"
DISK_IS_NEARLY_FULL = "the disk is nearly full; tell whoever runs this"
UNREADABLE = "could not be read"
UPLOAD_NOT_WRITTEN = "it could not be written; send it again later"
ON_ITS_WAY = "on its way"


def nobody(named: str, where: object, names: Sequence[str]) -> str:
    return f"nobody {named!r} in {where}; there are: {', '.join(names) or 'none'}"
