"""What is wrong with a roster, and what would be right."""

from monitor.reasons import reason

MUST_BE_BY_KIND = {
    "list_type": "must be a list, as in {key} = [\"...\"]",
    "int_type": "must be a whole number without quotes",
    "int_from_float": "must be a whole number",
    "int_parsing": "must be a whole number",
    "float_type": "must be a number without quotes",
    "bool_type": "must be true or false",
    "model_type": "must be a table, as in [{key}]",
    "float_parsing": "must be a number",
    "string_type": "must be text in quotes",
    "greater_than": "must be more than {gt:g}",
    "greater_than_equal": "must be {ge:g} or more",
    "less_than_equal": "must be {le:g} or less",
    "too_short": "must not be empty",
    "string_too_short": "must not be empty",
    "string_too_long": "must be shorter than {max_length} letters",
}  # fmt: skip

OPEN_WAY = (
    "others in the network can read what is sent and take it over; keep 127.0.0.1 and put a reverse proxy with https"
    " before it (url), or write insecure = true if only a private network leads there"
)

# Addresses.
MAIL_ADDRESS_MEANT = "; for mail write {mail}"
WEB_ADDRESS_MEANT = "; for a web address of your own write {own_address}:// in place of {scheme}://"
SCHEME_MEANT = "; did you mean {near}://?"
USUAL_SCHEMES = "; it begins like mailtos:// or ntfys:// or jsons://"
TWO_STROKES = "; write it with two strokes, {scheme}://"

# Roster: columns.
TABLE_FILES = 'files: names the files that it is for, like files = "sleep*.csv"'
WRONG_DATE_ORDER = "date_order = {order!r}: must be ymd, dmy or mdy"
WRONG_DECIMAL_COMMA = "decimal_comma = {comma!r}: must be true or false"
HEADER_WITH_UNIT = '{{ header = "{header}", unit = "h" }}'
OR_TABLE_OF_UNITS = ", or a table of field = unit"
MUST_BE_HEADER = '{key} = {value!r}: must be a header like "Sleep (h)", or {{ header = "Sleep", unit = "h" }}'
UNIT_OF_FIELD = "{where} = {unit!r}: must be one of "
UNIT = "unit: must be one of "
UNKNOWN_FIELD = "{key}: unknown field; allowed are "
UNKNOWN_UNIT = '{key} = "{header}": ({inside}) is no unit that is known; say which it is: {told} with one of '

# Roster: mistakes.
CURLY_QUOTES = '; write straight quotes, "...", in place of curly ones'
WINDOWS_STROKES = "; write folders of Windows with strokes, C:/exports, or in single quotes"
MISSING_QUOTES = "; text stands in quotes, a date and time as 2026-10-04T13:47:00"
KEY_TWICE = "; this key stands twice: take one of them out"
IN_ROSTER = reason("in_roster", "{name}: {mistake}")
KEY_UNKNOWN = reason("roster_key_unknown", "{place}unknown key `{key}`; {hint}")
KEY_MISSING = reason("roster_key_missing", "{place}`{key}` is missing")
KEYS_ALLOWED = reason("roster_keys_allowed", "allowed are {keys}")
NOT_ALLOWED = reason("roster_value_not_allowed", "{place}{key}: is not allowed as it stands")
KEY_MEANT = reason("roster_key_meant", "did you mean `{near}`?")
BELOW_ATHLETE = reason("roster_table_below_athlete", "write {of_an_athlete} below the [[athlete]] that it belongs to")

# Roster: read.
NO_TOML = "{path}: not valid TOML: {error}{hint}"
SECRET_OF_CONTACT_NOT_SET = (
    "{path}: contact {contact_id!r}: urls: {names} is not set in the environment; set it, then start again"
)
SECRET_NOT_SET = reason("roster_secret_not_set", "{name}: {names} is not set in the environment")
NO_ROSTER = reason("no_roster", "no roster here; `fallow init` writes one, or name another home with --home")
NO_UTF_8 = reason("roster_no_utf_8", "not UTF-8 text at byte {start}; save it as UTF-8")
ROSTER_UNREADABLE = reason("roster_unreadable", "cannot be read ({why}); check the file's permissions")
NO_TOML_IN_LOG = reason("roster_no_toml", "{name}: not valid TOML{where}")
URL_WITHOUT_SCHEME = "{path}: contact {id!r}: urls: a URL without a scheme; write it like json://host/path"
URL_WITHOUT_SCHEME_IN_LOG = reason("roster_url_without_scheme", "{name}: a contact's urls: a URL without a scheme")
NO_SUCH_CONTACT = "{where}: contacts: no contact {contact_id}{hint}"
WRONG_COLUMNS = reason("roster_columns_wrong", "{name}: a table of column names is not right")
ID_TWICE = "{path}: {what} id = {one}: stands twice; ids must differ"
FOLDER_HOLDS_HOME = "{path}: athlete {name!r}: folder = {shown}: holds the home folder; watched folders are only read"
FOLDER_TWICE = "{path}: athlete {name!r}: folder = {shown}: is the folder of {other!r} too; give each athlete one"
FOLDERS_OVERLAP = "{path}: athlete {name!r}: folder = {shown}: lies in or around the folder of {other!r}"

# Roster: shape.
TWO_BRACKETS = "write [[{name}]], with two brackets on each side"
MUST_BE_LIST = 'must be a list, as in {key} = ["{given}"]'
MUST_NOT_BE_EMPTY = "must not be empty; name an address, or take this contact out"
WORD_MEANT = "; did you mean {by_lower}?"
MUST_BE_LOCAL_TIME = 'must be a local time like "07:00"'
MUST_BE_QUIET_HOURS = 'must be two local times like "21:30-06:30", or "" for none'
MUST_BE_RESULT = 'must be a time like "3:25:10"'
MUST_BE_PACE = 'must be minutes and seconds per km between {between}, like "4:20"'
MUST_BE_LOCAL_DATE = "must be a local date and time like 2026-10-04T13:47:00"
HR_MAX_UNIT = "bpm, the highest that was ever measured"
MUST_BE_ID = "must be 1 to 64 letters, digits, - or _"
MUST_BE_YEAR = "must be a year from {oldest:g} to {youngest:g}"
FOLDER_WITH_TAB = "holds a tab or the like; write folders of Windows with strokes, C:/exports"
WINDOWS_FOLDER = "is a folder of Windows, and this machine has no such drives; where is it here?"
MUST_BE_ADDRESS = 'must be an address and a port like "127.0.0.1:8722"'
MUST_BE_PAGE_URL = 'must be where people find the page, like "https://fallow.example.org", without a path'
MUST_BE_BETWEEN = "must be {least:g} to {most:g} {unit}"
FINISH_TOO_FAR = "must be within {ahead:g} days from now; is the year right?"
ZONE_MEANT = '; did you mean "{near}"?'
MUST_BE_TIMEZONE = 'must be an IANA timezone like "Europe/Oslo"{hint}'
CUSTOM_WITHOUT_DISTANCE = 'event = "custom" needs distance_km'
IMPOSSIBLE_RESULT = "result: {km:g} km take from {quickest} to {longest}, as hours:minutes:seconds"
THRESHOLD_MODEL_WITHOUT_HR = 'intensity_model = "threshold" needs threshold_hr'
FIXED_MODEL_WITHOUT_CEILINGS = 'intensity_model = "fixed" needs ceiling_zone1 and ceiling_zone2'
CEILINGS_SWAPPED = "ceiling_zone1 must be lower than ceiling_zone2"
THRESHOLD_OVER_HR_MAX = "threshold_hr must not be higher than hr_max"
LISTEN_WITHOUT_HTTPS = "listen: is reached from other machines, without https: {open_way}"
URL_WITHOUT_HTTPS = "url: is without https: {open_way}"
MUST_BE_ONE_OF = "must be one of "
