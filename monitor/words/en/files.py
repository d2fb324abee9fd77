"""What is said of files, what lies in them, and why one could not be read."""

from collections.abc import Sequence

OUT_OF_EVENTS = "the system's limit on watched folders is reached; looked through every minute instead"

NOT_OURS = "not a kind of file that fallow reads"

A_LINK = "a symbolic link; links are not followed, put the file itself here"

ODD_NAME = "a name with characters that are no text; rename the file"

NAMED_LIKE_A_FILE = "a folder named like a file; it is not looked into"

FOLDER_WAS_CHANGED_FOR_EMPTY = (
    "the folder is empty and not the one that held the files before; is its share or disk mounted?"
)

REMARK = "labelled as a ride, but it holds what only running has: taken as a run"


NO_FILE = "not a regular file; it was not opened"

SAME_BYTES = "the same bytes as"

NO_DATE = "the device had no date when it recorded this, so it belongs to no day"

# Folders: events.
ROSTER_SAYS = "the roster says so"
MOUNT_DOES_NOT_TELL = "a {kind} mount does not tell of changes made elsewhere"
CANNOT_BE_WATCHED = "it cannot be watched ({why}); looked through every minute instead"

# Folders: listing.
FOLDER_CANNOT_BE_READ = "the folder cannot be read ({error})"
NOT_REGULAR_FILE = "not a regular file"
FOLDER_IS_NOT_THERE = "the folder is not there"
IS_NO_FOLDER = "is a file, not a folder"
FOLDER_MAY_NOT_BE_READ = "the folder may not be read (permission denied)"
FOLDER_THAT_CANNOT_BE_READ = "a folder that cannot be read ({error})"
ONLY_REGULAR_FILES_ARE_READ = "{mode}; only regular files are read"
CANNOT_BE_LOOKED_AT = "cannot be looked at ({error})"

# Intake: beats.
LINES_LEFT_OUT = "{skipped} lines left out: no interval"
RR_INTERVALS = "{intervals} RR intervals: more than the {beats} of two days"
TOO_FEW_RR_INTERVALS = "{intervals} RR intervals: at least {least_beats} are needed, about a minute"
RR_INTERVALS_NOT_AT_REST = "RR intervals at {rate:.0f} beats a minute: not at rest ({least:g} to {highest:g})"
RR_FILE_WITHOUT_DATE = "no date: put a first line such as '# 2026-10-06', or the date into the file's name"
RR_INTERVALS_IRREGULAR = "RR intervals too irregular to take an RMSSD from"

# Intake: cadence.
CADENCE_DOUBLED = "cadence was of one leg and is doubled to steps a minute"

# Intake: checkin.
NOT_A_DATE = "date = {text}: must be a date such as 2026-10-06, or a date and time"
NOT_YES_OR_NO = "{key} = {given}: must be yes or no"
MUST_BE_NUMBER = "{key} = {given}: must be a number from {least:g} to {most:g}"
CHECK_IN_NO_OBJECT = "a check-in must be an object with a date, not {entry}"
NO_CHECK_INS_IN_LIST = "an empty list of check-ins"
OTHER_ANSWERS_ARE_KEPT = "{sentence}; the other answers are kept"
KEYS_LEFT_OUT = "keys left out: "
CHECK_IN_LEFT_OUT = "a check-in left out: {error}"

# Intake: fit.
HEADER_GIVES_NO_LENGTH = "its header gives no length"
BYTES_AT_END_ARE_MISSING = "{missing} bytes at the end are missing"
CHECKSUM_IS_MISSING = "its checksum is missing"
CHECKSUM_IS_WRONG = "its checksum is wrong"
HEADER_CARRIES_NO_CHECKSUM = "its header carries no checksum"
CHECKSUM_OF_HEADER_IS_WRONG = "the checksum of its header is wrong"
MEASURED_AT_REST = "a measurement of the heartbeat at rest, not a session"
FILE_IS_EMPTY = "the file is empty"
NOT_FIT_FILE = "not a FIT file: it does not begin as one"
BYTES_AFTER_RECORDING = "{left} bytes after the recording make no sense and were left out"
CUT_OFF_AFTER_HEADER = "cut off after its header, before anything was recorded"
TOO_MANY_RECORDS = "{records} records, more than the {points} that are read"
FIT_KIND_NOT_JUDGED = "a FIT file of the kind {kind!r}, nothing to judge in it"
DEVICE_HAD_NO_DATE = "the device had no date; its times are taken from the local time at its end"
CUT_OFF_AFTER_BYTES = "cut off after {size} bytes, before anything was recorded"
CHAIN_TOO_LONG = "only the first {most} recordings of the chain were read"
NOTHING_RECORDED = "nothing recorded in it that is judged"

# Intake: fit_decoders.
FAST_DECODER_BROKE_DOWN = "the fast decoder broke down on it"
CUT_OFF_AFTER = "cut off after {messages}: {error}"
MESSAGE_MAKES_NO_SENSE = "a message in it makes no sense"
READ_WITH_FITPARSE = "read with fitparse: {why}"
DAMAGED_BEFORE_ANYTHING_WAS_RECORDED = "damaged before anything was recorded: {error}"
FILE_ENDS_IN_MIDDLE = "the file ends in the middle of a message"
STOPPED_AFTER = "stopped after {messages}: too long to be read on"

# Intake: fit_sessions.
RECORDS_LEFT_OUT = "{dropped} records left out: their time makes no sense"

# Intake: gpx.
NO_TRACK = "no track in it: a route or waypoints, not a recording"
ONLY_PART_COULD_BE_READ = "only a part could be read: {broken}"
NO_TIMES = "no times in it: a route, not a recording"
POINTS_WITHOUT_TIME = "{timeless} points without a time left out"
TRACK_WITH_LONG_GAPS = "a track with gaps of hours is read as {gaps} recordings"
SPORT_NUMBER_UNKNOWN = "it is not known what sport the number {odd} stands for: judged by how it moved"
MORE_THAN_RECORDINGS = "more than {recordings} recordings in one file"

# Intake: kinds.
MORE_THAN_GZIP_FILES = "more than {archive_members} gzip files in a row; the rest is not read"
HOLDS_XML_OF_KIND = "holds XML of the kind {root}"
NO_KNOWN_TEXT = "neither RR intervals nor a table with known columns: begins with {begin}"
ARCHIVE_WITHIN_ARCHIVE = "an archive within an archive; unpack it once"
UNPACKS_TO_MORE_THAN_MB = "unpacks to more than {limit:.0f} MB"
UNPACKS_TO_MORE_THAN_TIMES = "unpacks to more than {archive_ratio} times its size: no recording does"
MORE_THAN_FILES_IN_ARCHIVE = "more than {archive_members} files in the archive; unpack it into the folder"
NAME_LEADS_OUT_OF_ARCHIVE = "its name leads out of the archive"
NO_PLAIN_FILE_NAME = "its name is not one of a plain file"
IS_ENCRYPTED = "it is encrypted"
IS_LINK = "it is a link"
IS_PACKED_BY_METHOD = "it is packed by a method that is not read; pack it with deflate"
NO_FILE_OF_KIND = "no file of a kind that is read"
NOTHING_IN_ARCHIVE_COULD_BE_READ = "nothing in the archive could be read: {reason}"
FILES_OF_OTHER_KINDS = "{ignored} files of other kinds in the archive were not looked at"
FILE_TOO_LARGE = "{size:.0f} MB, more than the {most:.0f} MB such a file may have"
EMPTY_FILE = "an empty file"
HOLDS_WEB_PAGE = "holds a web page"
KIND_NOT_READ = "not a kind of file that is read: {found}; {ending}"
EMPTY_FILE_IN_GZIP = "an empty file in a gzip file"
GZIP_FILE_IS_CUT_OFF = "the gzip file is cut off"
ARCHIVE_HOLDS_TOO_MUCH = "more in the archive than can be read at once; unpack it into the folder"
DAMAGED_ZIP_FILE = "a damaged ZIP file: {error}"
GZIP_FILE_IS_DAMAGED = "the gzip file is damaged: {error}"

# Intake: mhealth_json.
JSON_WITHOUT_KNOWN_DATA = "a JSON file without a check-in, sleep, resting heart rate or RR intervals"
SLEEP_STATISTIC_LEFT_OUT = "sleep told as {descriptive_statistic} of a time, not of a night, is left out"
NAP_LEFT_OUT = "a nap on {local_start} is left out"
HEART_RATES_NOT_AT_REST = "heart rates that are not said to be at rest are left out"
RR_INTERVALS_NOT_SINGLE_BEATS = "RR intervals that are not single beats at rest are left out"
FRAME_TOO_LONG = "a frame of {hours:.0f} hours is no night"
ASLEEP_LONGER_THAN_FRAME = "{minutes:g} minutes asleep in a frame of {length_min:g}"
SLEEP_EFFICIENCY = "a sleep efficiency of {percent:g} %"
RESTING_HEART_RATE = "a resting heart rate of {bpm:g}: must be from {least:g} to {most:g}"
NO_TIME_INTERVAL = "no time interval"
ENDS_BEFORE_IT_STARTS = "it ends before it starts"
IS_NO_DATE = "{quoted} is no date and time"
HAS_NO_TIMEZONE = "{quoted} has no timezone"
IS_NO_LENGTH_OF_TIME = "{quoted} is no length of time"
IS_NO_NUMBER = "{quoted} is no number"
MORE_THAN_DOCUMENTS = "more than {documents} documents in one file; split it"
TOO_FEW_RR_INTERVALS_OF_DAY = "{day}: {beats} RR intervals; at least {least} are needed, about a minute"
TIME_BEYOND_CALENDAR = "a time beyond the calendar"
DOCUMENT_LEFT_OUT = "document {count} left out: {error}"
EMPTY_JSON_DOCUMENT = "an empty JSON document"

# Intake: nights_csv.
NO_ROW_COULD_BE_READ = "no row could be read; {reason}"
ASLEEP_IMPLAUSIBLE = "{asleep:g} min asleep is nobody's night; left out: is the unit right?"
LEFT_OUT = "{text} left out: must be from {allowed}"
ROW_IS_LEFT_OUT = "{error}; the row is left out"
WAKING_TOO_FAR_FROM_BEDTIME = "not within a day after the bedtime; both left out"
ONLY_FIRST_ROWS_ARE_READ = "only the first {rows} rows are read"
CHECK_IN_ROW_LEFT_OUT = "check-in left out: {error}"
ASLEEP_LONGER_THAN_IN_BED = "{asleep:g} min asleep in {in_bed_min:g} min in bed; left out"
ASLEEP_LONGER_THAN_IN_BED_UNIT = "{asleep:g} min asleep in {in_bed_min:g} min in bed; left out: is the unit right?"

# Intake: plausible.
FUTURE_LEFT_OUT_CORRECT = "{entries} {what}, in the future: left out; correct the date"
SESSION_DATED = "a session dated {coming}, in the future: not judged yet"

# Intake: reading.
NAME_CANNOT_BE_OPENED = "its name cannot be opened"
NO_LONGER_THERE = "no longer there"
MAY_NOT_BE_OPENED = "may not be opened: permission denied"
LINK_OR_OUTSIDE_OF_FOLDER = "a link or outside of its folder; it was not opened"
GREW_WHILE_IT_WAS_READ = "it grew while it was read"
OUTSIDE_OF_FOLDER = "outside of its folder"
ROWS_OF_SAMPLES = "{rows} rows of samples, more than the {most_rows} that one file may have"
READER_BROKE_DOWN = "the reader broke down on it ({kind})"

# Intake: storing.
CANNOT_BE_READ = "cannot be read"
SAME_SESSION = "the same session, told better"
TRIED_AGAIN_UNTIL_FILE = "{reason}; tried again until the file is 10 minutes old"
HAD_BEFORE = "it had before"
HOLDS_NOTHING_THAT_FALLOW = "holds nothing that fallow judges"
NOTHING_IN_IT_THAT_IS_NOT_KNOWN = "nothing in it that is not known already"

# Intake: table.
IN_DATE = ', as in date = "{first}"'
LENGTH_OF_TIME = "a length of time has no unit {unit}"
DATE_ORDER_DMY = 'date_order = "dmy" or "mdy" under [athlete.columns]'
IS_NO_DATE_SUCH = "{cell} is no date such as 2026-10-06"
NO_KNOWN_COLUMNS = (
    "no known columns in {seen}; expected: {names}; name other headers under [athlete.columns] in the roster{hint}"
)
TELL_ORDER_OF_DAY = "{cell}: tell the order of day and month with {told}"
HAS_NO_DATE = "{cell} has no date"
HAS_NO_TIME_OF_DAY = "{cell} has no time of day"
IS_NO_DAY_OF_CALENDAR = "{cell} is no day of the calendar"

# Intake: tcx.
NO_TRACKPOINTS = "no trackpoints: only the summary of its laps is known"
LAPS_TIMES_COME_TO_MORE_THAN_RECORDING = "the laps' times come to more than the recording lasted and are not used"
NO_ACTIVITY = "no activity in it: a planned course or an empty export"

# Intake: track.
POSITIONS_DO_NOT_MOVE = "the positions do not move: speed and distance are not known"
POINTS_LEFT_OUT = "{seconds} points left out: their clock was not set"
KM_OVER_BREAKS_IN_TRACK = "{kilometres:.1f} km over breaks in the track left out: only a vehicle is so fast"
MORE_THAN_POINTS = "more than {most} points in one recording"
POINTS_THAT_WERE_OUT = "points that were out of order in time were put in order"

# Intake: untrusted.
IS_NOT_JSON = "{constant} is not JSON"
BROKEN_XML = "broken XML: no element in it"
NOT_TEXT_FILE = "not a text file: begins with {begin}"
BROKEN_JSON = "broken JSON: {msg} in line {lineno}"
JSON_NESTED_BEYOND_REASON = "JSON nested beyond reason"
XML_WITH_DOCUMENT_TYPE = "XML with a document type or entities is refused; export it again as TCX or GPX"
XML_NESTED_TOO_DEEP = "XML nested too deep or with too many elements for an activity"

# Intake: worker_main.
DECODING_NEEDS_MORE_THAN_MB = "decoding needs more than {memory_mb} MB of memory"

# Intake: worker_process.
DECODER_CRASHED = "the decoder crashed on it"
DECODING_TAKES_LONGER_THAN_S = "decoding takes longer than {wall_seconds:.0f} s"
NO_PROCESS_TO_DECODE = (
    "no process to decode files could be started; is there memory left, and is fallow installed whole?"
)
DECODING_TAKES_MORE_THAN_S = "decoding takes more than {cpu_seconds:.0f} s of processor time"
PROCESS_THAT_DECODED = "the process that decoded it was killed from outside"

# Intake: workers.
READING_FILES_FAILED = "reading files failed ({kind})"


def measures_only(known: str) -> str:
    """Of a body of JSON that measures something else."""
    return f"no sleep, resting heart rate or RR intervals in it, only {known or 'nothing'}"


def monitoring(days: Sequence[str], rates: int) -> str:
    """Of a file of monitoring; one or two days."""
    return f"all-day monitoring of {' to '.join(days)}, {rates or 'no'} heart rates, no resting heart rate in it"


def cannot_be_opened(why: str | None) -> str:
    return f"cannot be opened: {(why or 'unknown error').lower()}"


def told_by(path: str, *, alike: bool) -> str:
    """Of a recording that another file tells as well (alike) or better."""
    return f"the same recording as {path}" if alike else f"the same session as {path}, which tells more"


NOT_INSTALLED_FIT_DECODERS = "the fast decoder is not installed"
