"""What is said of files, what lies in them, and why one could not be read."""

from monitor.reasons import reason

WATCHES_USED_UP = reason(
    "watches_used_up", "the system's limit on watched folders is reached; looked through every minute instead"
)

OTHER_KIND = reason("other_kind", "not a kind of file that fallow reads")

SYMBOLIC_LINK = reason("symbolic_link", "a symbolic link; links are not followed, put the file itself here")

ODD_NAME = reason("odd_name", "a name with characters that are no text; rename the file")

FOLDER_NAMED_LIKE_A_FILE = reason("folder_named_like_a_file", "a folder named like a file; it is not looked into")

ANOTHER_EMPTY_FOLDER = reason(
    "another_empty_folder",
    "the folder is empty and not the one that held the files before; is its share or disk mounted?",
)

RIDE_IS_A_RUN = reason("ride_is_a_run", "labelled as a ride, but it holds what only running has: taken as a run")


NO_REGULAR_FILE = reason("no_regular_file", "not a regular file; it was not opened")

SAME_BYTES = reason("same_bytes", "the same bytes as {path}")

NO_DATE = reason("no_date", "the device had no date when it recorded this, so it belongs to no day")

# Folders: events.
POLLED_BY_ROSTER = reason("polled_by_roster", "the roster says so")
MOUNT_WITHOUT_EVENTS = reason("mount_without_events", "a {kind} mount does not tell of changes made elsewhere")
CANNOT_BE_WATCHED = reason("cannot_be_watched", "it cannot be watched ({why}); looked through every minute instead")

# Folders: listing.
FOLDER_CANNOT_BE_READ = reason("folder_cannot_be_read", "the folder cannot be read ({error})")
NEITHER_FILE_NOR_FOLDER = reason("neither_file_nor_folder", "not a regular file")
FOLDER_DOES_NOT_ANSWER = reason("folder_does_not_answer", "the folder does not answer")
FOLDER_IS_NOT_THERE = reason("folder_is_not_there", "the folder is not there")
IS_NO_FOLDER = reason("is_no_folder", "is a file, not a folder")
FOLDER_MAY_NOT_BE_READ = reason("folder_may_not_be_read", "the folder may not be read (permission denied)")
CLOSED_FOLDER = reason("closed_folder", "a folder that cannot be read ({error})")
SPECIAL_FILE = reason("special_file", "{mode}; only regular files are read")
CANNOT_BE_LOOKED_AT = reason("cannot_be_looked_at", "cannot be looked at ({error})")

# Intake: beats.
LINES_LEFT_OUT = reason("lines_left_out", "{skipped} lines left out: no interval")
TOO_MANY_RR_INTERVALS = reason("too_many_rr_intervals", "{intervals} RR intervals: more than the {beats} of two days")
TOO_FEW_RR_INTERVALS = reason(
    "too_few_rr_intervals", "{intervals} RR intervals: at least {least_beats} are needed, about a minute"
)
RR_INTERVALS_NOT_AT_REST = reason(
    "rr_intervals_not_at_rest", "RR intervals at {rate:.0f} beats a minute: not at rest ({least:g} to {highest:g})"
)
RR_FILE_WITHOUT_DATE = reason(
    "rr_file_without_date", "no date: put a first line such as '# 2026-10-06', or the date into the file's name"
)
RR_INTERVALS_IRREGULAR = reason("rr_intervals_irregular", "RR intervals too irregular to take an RMSSD from")

# Intake: cadence.
CADENCE_DOUBLED = reason("cadence_doubled", "cadence was of one leg and is doubled to steps a minute")

# Intake: checkin.
NOT_A_DATE = reason("not_a_date", "date = {text}: must be a date such as 2026-10-06, or a date and time")
NOT_YES_OR_NO = reason("not_yes_or_no", "{key} = {given}: must be yes or no")
SCALE_OUT_OF_RANGE = reason("scale_out_of_range", "{key} = {given}: must be a number from {least:g} to {most:g}")
CHECK_IN_NO_OBJECT = reason("check_in_no_object", "a check-in must be an object with a date, not {entry}")
NO_CHECK_INS_IN_LIST = reason("no_check_ins_in_list", "an empty list of check-ins")
OTHER_ANSWERS_ARE_KEPT = reason("other_answers_are_kept", "{sentence}; the other answers are kept")
KEYS_LEFT_OUT = reason("keys_left_out", "keys left out: {keys}")
CHECK_IN_LEFT_OUT = reason("check_in_left_out", "a check-in left out: {error}")

# Intake: fit.
HEADER_GIVES_NO_LENGTH = reason("header_gives_no_length", "its header gives no length")
BYTES_AT_END_ARE_MISSING = reason("bytes_at_end_are_missing", "{missing} bytes at the end are missing")
CHECKSUM_IS_MISSING = reason("checksum_is_missing", "its checksum is missing")
CHECKSUM_IS_WRONG = reason("checksum_is_wrong", "its checksum is wrong")
HEADER_CARRIES_NO_CHECKSUM = reason("header_carries_no_checksum", "its header carries no checksum")
CHECKSUM_OF_HEADER_IS_WRONG = reason("checksum_of_header_is_wrong", "the checksum of its header is wrong")
MEASURED_AT_REST = reason("measured_at_rest", "a measurement of the heartbeat at rest, not a session")
FILE_IS_EMPTY = reason("file_is_empty", "the file is empty")
NOT_FIT_FILE = reason("not_fit_file", "not a FIT file: it does not begin as one")
BYTES_AFTER_RECORDING = reason(
    "bytes_after_recording", "{left} bytes after the recording make no sense and were left out"
)
CUT_OFF_AFTER_HEADER = reason("cut_off_after_header", "cut off after its header, before anything was recorded")
TOO_MANY_RECORDS = reason("too_many_records", "{records} records, more than the {points} that are read")
FIT_KIND_NOT_JUDGED = reason("fit_kind_not_judged", "a FIT file of the kind {kind!r}, nothing to judge in it")
DEVICE_HAD_NO_DATE = reason(
    "device_had_no_date", "the device had no date; its times are taken from the local time at its end"
)
CUT_OFF_AFTER_BYTES = reason("cut_off_after_bytes", "cut off after {size} bytes, before anything was recorded")
CHAIN_TOO_LONG = reason("chain_too_long", "only the first {most} recordings of the chain were read")
NOTHING_RECORDED = reason("nothing_recorded", "nothing recorded in it that is judged")

# Intake: fit_decoders.
FAST_DECODER_BROKE = reason("fast_decoder_broke", "the fast decoder broke down on it")
CUT_OFF_AFTER = reason("cut_off_after", "cut off after {messages}: {error}")
MESSAGE_MAKES_NO_SENSE = reason("message_makes_no_sense", "a message in it makes no sense")
READ_WITH_FITPARSE = reason("read_with_fitparse", "read with fitparse: {why}")
DAMAGED_FROM_THE_START = reason("damaged_from_the_start", "damaged before anything was recorded: {error}")
FILE_ENDS_IN_MIDDLE = reason("file_ends_in_middle", "the file ends in the middle of a message")
STOPPED_AFTER = reason("stopped_after", "stopped after {messages}: too long to be read on")

# Intake: fit_sessions.
RECORDS_LEFT_OUT = reason("records_left_out", "{dropped} records left out: their time makes no sense")

# Intake: gpx.
NO_TRACK = reason("no_track", "no track in it: a route or waypoints, not a recording")
ONLY_PART_COULD_BE_READ = reason("only_part_could_be_read", "only a part could be read: {broken}")
NO_TIMES = reason("no_times", "no times in it: a route, not a recording")
POINTS_WITHOUT_TIME = reason("points_without_time", "{timeless} points without a time left out")
TRACK_WITH_LONG_GAPS = reason("track_with_long_gaps", "a track with gaps of hours is read as {gaps} recordings")
SPORT_NUMBER_UNKNOWN = reason(
    "sport_number_unknown", "it is not known what sport the number {odd} stands for: judged by how it moved"
)
TOO_MANY_RECORDINGS = reason("too_many_recordings", "more than {recordings} recordings in one file")

# Intake: kinds.
TOO_MANY_GZIP_FILES = reason(
    "too_many_gzip_files", "more than {archive_members} gzip files in a row; the rest is not read"
)
OTHER_XML = reason("other_xml", "holds XML of the kind {root}")
UNKNOWN_TEXT = reason("unknown_text", "neither RR intervals nor a table with known columns: begins with {begin}")
ARCHIVE_WITHIN_ARCHIVE = reason("archive_within_archive", "an archive within an archive; unpack it once")
UNPACKED_TOO_LARGE = reason("unpacked_too_large", "unpacks to more than {limit:.0f} MB")
PACKED_TOO_TIGHT = reason("packed_too_tight", "unpacks to more than {archive_ratio} times its size: no recording does")
TOO_MANY_FILES_IN_ARCHIVE = reason(
    "too_many_files_in_archive", "more than {archive_members} files in the archive; unpack it into the folder"
)
NAME_LEADS_OUT_OF_ARCHIVE = reason("name_leads_out_of_archive", "its name leads out of the archive")
NO_PLAIN_FILE_NAME = reason("no_plain_file_name", "its name is not one of a plain file")
ENCRYPTED_MEMBER = reason("encrypted_member", "it is encrypted")
LINK_IN_ARCHIVE = reason("link_in_archive", "it is a link")
UNKNOWN_COMPRESSION = reason("unknown_compression", "it is packed by a method that is not read; pack it with deflate")
NO_FILE_THAT_IS_READ = reason("no_file_that_is_read", "no file of a kind that is read")
NOTHING_READ_OF_ARCHIVE = reason("nothing_read_of_archive", "nothing in the archive could be read: {reason}")
FILES_OF_OTHER_KINDS = reason(
    "files_of_other_kinds", "{ignored} files of other kinds in the archive were not looked at"
)
FILE_TOO_LARGE = reason("file_too_large", "{size:.0f} MB, more than the {most:.0f} MB such a file may have")
EMPTY_FILE = reason("empty_file", "an empty file")
WEB_PAGE = reason("web_page", "holds a web page")
KIND_NOT_READ = reason("kind_not_read", "not a kind of file that is read: {found}; {ending}")
EMPTY_FILE_IN_GZIP = reason("empty_file_in_gzip", "an empty file in a gzip file")
GZIP_FILE_IS_CUT_OFF = reason("gzip_file_is_cut_off", "the gzip file is cut off")
ARCHIVE_HOLDS_TOO_MUCH = reason(
    "archive_holds_too_much", "more in the archive than can be read at once; unpack it into the folder"
)
DAMAGED_ZIP_FILE = reason("damaged_zip_file", "a damaged ZIP file: {error}")
GZIP_FILE_IS_DAMAGED = reason("gzip_file_is_damaged", "the gzip file is damaged: {error}")

# Intake: mhealth_json.
JSON_WITHOUT_KNOWN_DATA = reason(
    "json_without_known_data", "a JSON file without a check-in, sleep, resting heart rate or RR intervals"
)
SLEEP_STATISTIC_LEFT_OUT = reason(
    "sleep_statistic_left_out", "sleep told as {descriptive_statistic} of a time, not of a night, is left out"
)
NAP_LEFT_OUT = reason("nap_left_out", "a nap on {local_start} is left out")
HEART_RATES_NOT_AT_REST = reason("heart_rates_not_at_rest", "heart rates that are not said to be at rest are left out")
RR_INTERVALS_NOT_SINGLE_BEATS = reason(
    "rr_intervals_not_single_beats", "RR intervals that are not single beats at rest are left out"
)
FRAME_TOO_LONG = reason("frame_too_long", "a frame of {hours:.0f} hours is no night")
ASLEEP_LONGER_THAN_FRAME = reason("asleep_longer_than_frame", "{minutes:g} minutes asleep in a frame of {length_min:g}")
SLEEP_EFFICIENCY_OUT_OF_RANGE = reason("sleep_efficiency_out_of_range", "a sleep efficiency of {percent:g} %")
RESTING_HEART_RATE_OUT_OF_RANGE = reason(
    "resting_heart_rate_out_of_range", "a resting heart rate of {bpm:g}: must be from {least:g} to {most:g}"
)
NO_TIME_INTERVAL = reason("no_time_interval", "no time interval")
ENDS_BEFORE_IT_STARTS = reason("ends_before_it_starts", "it ends before it starts")
NO_DATE_AND_TIME = reason("no_date_and_time", "{quoted} is no date and time")
WITHOUT_TIMEZONE = reason("without_timezone", "{quoted} has no timezone")
NO_DURATION = reason("no_duration", "{quoted} is no length of time")
NO_NUMBER = reason("no_number", "{quoted} is no number")
TOO_MANY_DOCUMENTS = reason("too_many_documents", "more than {documents} documents in one file; split it")
TOO_FEW_RR_INTERVALS_OF_DAY = reason(
    "too_few_rr_intervals_of_day", "{day}: {beats} RR intervals; at least {least} are needed, about a minute"
)
TIME_BEYOND_CALENDAR = reason("time_beyond_calendar", "a time beyond the calendar")
DOCUMENT_LEFT_OUT = reason("document_left_out", "document {count} left out: {error}")
EMPTY_JSON_DOCUMENT = reason("empty_json_document", "an empty JSON document")

# Intake: nights_csv.
NO_ROW_COULD_BE_READ = reason("no_row_could_be_read", "no row could be read; {reason}")
ASLEEP_IMPLAUSIBLE = reason(
    "asleep_implausible", "{asleep:g} min asleep is nobody's night; left out: is the unit right?"
)
VALUE_OUT_OF_RANGE = reason("value_out_of_range", "{text} left out: must be from {allowed}")
ROW_LEFT_OUT = reason("row_left_out", "{error}; the row is left out")
WAKING_TOO_FAR_FROM_BEDTIME = reason("waking_too_far_from_bedtime", "not within a day after the bedtime; both left out")
TABLE_TOO_LONG = reason("table_too_long", "only the first {rows} rows are read")
CHECK_IN_ROW_LEFT_OUT = reason("check_in_row_left_out", "check-in left out: {error}")
ASLEEP_LONGER_THAN_IN_BED = reason(
    "asleep_longer_than_in_bed", "{asleep:g} min asleep in {in_bed_min:g} min in bed; left out"
)
ASLEEP_LONGER_THAN_IN_BED_UNIT = reason(
    "asleep_longer_than_in_bed_unit", "{asleep:g} min asleep in {in_bed_min:g} min in bed; left out: is the unit right?"
)

# Intake: plausible.
DAYS_AHEAD_LEFT_OUT = reason("days_ahead_left_out", "{entries} {what}, in the future: left out; correct the date")
SESSION_AHEAD = reason("session_ahead", "a session dated {coming}, in the future: not judged yet")

# Intake: reading.
NAME_CANNOT_BE_OPENED = reason("name_cannot_be_opened", "its name cannot be opened")
NO_LONGER_THERE = reason("no_longer_there", "no longer there")
MAY_NOT_BE_OPENED = reason("may_not_be_opened", "may not be opened: permission denied")
LINK_OR_OUTSIDE_OF_FOLDER = reason("link_or_outside_of_folder", "a link or outside of its folder; it was not opened")
GREW_WHILE_IT_WAS_READ = reason("grew_while_it_was_read", "it grew while it was read")
OUTSIDE_OF_FOLDER = "outside of its folder"
TOO_MANY_ROWS = reason("too_many_rows", "{rows} rows of samples, more than the {most_rows} that one file may have")
READER_BROKE_DOWN = reason("reader_broke_down", "the reader broke down on it ({kind})")

# Intake: storing.
CANNOT_BE_READ = reason("cannot_be_read", "cannot be read")
SAME_SESSION = reason("same_session", "the same session, told better")
YOUNG_FILE_WAITS = reason("young_file_waits", "{reason}; tried again until the file is 10 minutes old")
HAD_BEFORE = reason("had_before", "it had before")
NOTHING_JUDGED = reason("nothing_judged", "holds nothing that fallow judges")
NOTHING_NEW = reason("nothing_new", "nothing in it that is not known already")

# Intake: table.
COLUMN_HINT = reason("column_hint", ', as in date = "{first}"')
UNKNOWN_UNIT_OF_TIME = reason("unknown_unit_of_time", "a length of time has no unit {unit}")
DATE_ORDER_SETTING = reason("date_order_setting", 'date_order = "dmy" or "mdy" under [athlete.columns]')
CELL_IS_NO_DATE = reason("cell_is_no_date", "{cell} is no date such as 2026-10-06")
NO_KNOWN_COLUMNS = reason(
    "no_known_columns",
    "no known columns in {seen}; expected: {names}; name other headers under [athlete.columns] in the roster{hint}",
)
DAY_OR_MONTH_FIRST = reason("day_or_month_first", "{cell}: tell the order of day and month with {told}")
CELL_WITHOUT_DATE = reason("cell_without_date", "{cell} has no date")
CELL_WITHOUT_TIME = reason("cell_without_time", "{cell} has no time of day")
NO_DAY_OF_CALENDAR = reason("no_day_of_calendar", "{cell} is no day of the calendar")

# Intake: tcx.
NO_TRACKPOINTS = reason("no_trackpoints", "no trackpoints: only the summary of its laps is known")
LAP_TIMES_TOO_LONG = reason(
    "lap_times_too_long", "the laps' times come to more than the recording lasted and are not used"
)
NO_ACTIVITY = reason("no_activity", "no activity in it: a planned course or an empty export")

# Intake: track.
POSITIONS_DO_NOT_MOVE = reason("positions_do_not_move", "the positions do not move: speed and distance are not known")
POINTS_WITHOUT_CLOCK = reason("points_without_clock", "{seconds} points left out: their clock was not set")
LEAPS_LEFT_OUT = reason(
    "leaps_left_out", "{kilometres:.1f} km over breaks in the track left out: only a vehicle is so fast"
)
TOO_MANY_POINTS = reason("too_many_points", "more than {most} points in one recording")
POINTS_PUT_IN_ORDER = reason("points_put_in_order", "points that were out of order in time were put in order")

# Intake: untrusted.
NO_JSON_CONSTANT = reason("no_json_constant", "{constant} is not JSON")
XML_WITHOUT_ELEMENT = reason("xml_without_element", "broken XML: no element in it")
NOT_TEXT_FILE = reason("not_text_file", "not a text file: begins with {begin}")
BROKEN_JSON = reason("broken_json", "broken JSON: {msg} in line {lineno}")
JSON_NESTED_BEYOND_REASON = reason("json_nested_beyond_reason", "JSON nested beyond reason")
XML_WITH_DOCUMENT_TYPE = reason(
    "xml_with_document_type", "XML with a document type or entities is refused; export it again as TCX or GPX"
)
XML_NESTED_TOO_DEEP = reason("xml_nested_too_deep", "XML nested too deep or with too many elements for an activity")

# Intake: worker_main.
DECODING_TOO_MUCH_MEMORY = reason("decoding_too_much_memory", "decoding needs more than {memory_mb} MB of memory")

# Intake: worker_process.
DECODER_CRASHED = reason("decoder_crashed", "the decoder crashed on it")
DECODING_TOO_LONG = reason("decoding_too_long", "decoding takes longer than {wall_seconds:.0f} s")
NO_DECODING_PROCESS = (
    "no process to decode files could be started; is there memory left, and is fallow installed whole?"
)
DECODING_TOO_MUCH_CPU = reason(
    "decoding_too_much_cpu", "decoding takes more than {cpu_seconds:.0f} s of processor time"
)
DECODER_KILLED = reason("decoder_killed", "the process that decoded it was killed from outside")

# Intake: workers.
READING_FILES_FAILED = "reading files failed ({kind})"

FAST_DECODER_MISSING = reason("fast_decoder_missing", "the fast decoder is not installed")

# Of a body of JSON that measures something else; of a file of monitoring, of one or two days.
OTHER_MEASURES = reason("other_measures", "no sleep, resting heart rate or RR intervals in it, only {known}")
MONITORING = reason("monitoring", "all-day monitoring of {days}, {rates} heart rates, no resting heart rate in it")

# Of a recording that another file tells as well, or better.
SAME_RECORDING = reason("same_recording", "the same recording as {path}")
SAME_SESSION_TOLD_BETTER = reason("same_session_told_better", "the same session as {path}, which tells more")

CANNOT_BE_OPENED = reason("cannot_be_opened", "cannot be opened: {why}")

# Where in a file it is.
IN_LINE = reason("in_line", "line {line}, {column}: {reason}")
IN_PART = reason("in_part", "part {part} of {parts}: {reason}")
IN_MEMBER = reason("in_member", "{name}: {reason}")
MEMBER_LEFT_OUT = reason("member_left_out", "{name} left out: {reason}")
DAMAGED_MEMBER = reason("damaged_member", "damaged: {error}")
AND_MORE = reason("and_more", "and {more} more like these")
NOT_OF_ITS_KIND = reason("not_of_its_kind", "not {kind} file: {found}")
JSON_OF_OTHER_KIND = reason("json_of_other_kind", "{reason}: holds {entry}")

# What became of what is damaged.
NOTHING_CAME_BEFORE = reason("nothing_came_before", "{reason}; nothing that is judged came before")
READ_AS_FAR_AS_IT_GOES = reason("read_as_far_as_it_goes", "{reason}; what is there was read")
READ_ALL_THE_SAME = reason("read_all_the_same", "{reason}; read all the same")
JSON_CANNOT_BE_READ = reason("json_cannot_be_read", "broken JSON: {error}")
XML_CANNOT_BE_READ = reason("xml_cannot_be_read", "broken XML: {error}")
ROW_WITHOUT_DATE = reason("row_without_date", "no date")
ASLEEP_OUT_OF_RANGE = reason("asleep_out_of_range", "{minutes:g} minutes asleep")
