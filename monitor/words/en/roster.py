"""What is wrong with a roster, and what would be right."""

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
FOR_MAIL_WRITE = "; for mail write {mail}"
FOR_WEB_ADDRESS_OF_OWN = "; for a web address of your own write {own_address}:// in place of {scheme}://"
DID_YOU_MEAN = "; did you mean {near}://?"
BEGINS_LIKE_MAILTOS = "; it begins like mailtos:// or ntfys:// or jsons://"
WRITE_IT_WITH_TWO = "; write it with two strokes, {scheme}://"

# Roster: columns.
FILES_NAMES_FILES = 'files: names the files that it is for, like files = "sleep*.csv"'
DATE_ORDER = "date_order = {order!r}: must be ymd, dmy or mdy"
DECIMAL_COMMA = "decimal_comma = {comma!r}: must be true or false"
HEADER_UNIT_H = '{{ header = "{header}", unit = "h" }}'
TABLE_OF_FIELD_UNIT = ", or a table of field = unit"
MUST_BE_HEADER = '{key} = {value!r}: must be a header like "Sleep (h)", or {{ header = "Sleep", unit = "h" }}'
MUST_BE = "{where} = {unit!r}: must be one of "
UNIT_MUST = "unit: must be one of "
UNKNOWN_FIELD = "{key}: unknown field; allowed are "
IS_NO_UNIT_THAT_IS_KNOWN = (
    '{key} = "{header}": ({inside}) is no unit that is known; say which it is: {told} with one of '
)

# Roster: mistakes.
WRITE_STRAIGHT_QUOTES = '; write straight quotes, "...", in place of curly ones'
WRITE_FOLDERS_OF_WINDOWS = "; write folders of Windows with strokes, C:/exports, or in single quotes"
TEXT_STANDS_IN_QUOTES = "; text stands in quotes, a date and time as 2026-10-04T13:47:00"
THIS_KEY_STANDS_TWICE = "; this key stands twice: take one of them out"
IS_NOT_ALLOWED = "{place}{key}: is not allowed as it stands"
DID_YOU_MEAN_OPTION = "did you mean `{near}`?"
WRITE_BELOW_ATHLETE = "write {of_an_athlete} below the [[athlete]] that it belongs to"

# Roster: read.
NOT_VALID_TOML = "{path}: not valid TOML: {error}{hint}"
CONTACT_URLS_IS_NOT_SET = (
    "{path}: contact {contact_id!r}: urls: {names} is not set in the environment; set it, then start again"
)
IS_NOT_SET_IN_ENVIRONMENT = "{name}: {names} is not set in the environment"
NO_ROSTER_HERE = "no roster here; `fallow init` writes one, or name another home with --home"
NOT_UTF_TEXT = "not UTF-8 text at byte {start}; save it as UTF-8"
CANNOT_BE_READ = "cannot be read ({why}); check the file's permissions"
NOT_VALID_TOML_2 = "{name}: not valid TOML{where}"
CONTACT_URLS_URL_WITHOUT_SCHEME = "{path}: contact {id!r}: urls: a URL without a scheme; write it like json://host/path"
CONTACTS_URLS = "{name}: a contact's urls: a URL without a scheme"
CONTACTS_NO_CONTACT = "{where}: contacts: no contact {contact_id}{hint}"
TABLE_OF_COLUMN_NAMES = "{name}: a table of column names is not right"
ID_STANDS_TWICE_IDS = "{path}: {what} id = {one}: stands twice; ids must differ"
ATHLETE_FOLDER_HOLDS_HOME = (
    "{path}: athlete {name!r}: folder = {shown}: holds the home folder; watched folders are only read"
)
ATHLETE_FOLDER_IS_FOLDER = (
    "{path}: athlete {name!r}: folder = {shown}: is the folder of {other!r} too; give each athlete one"
)
ATHLETE_FOLDER_LIES = "{path}: athlete {name!r}: folder = {shown}: lies in or around the folder of {other!r}"

# Roster: shape.
WRITE_TWO_BRACKETS = "write [[{name}]], with two brackets on each side"
MUST_BE_LIST = 'must be a list, as in {key} = ["{given}"]'
MUST_NOT_BE_EMPTY = "must not be empty; name an address, or take this contact out"
DID_YOU_MEAN_3 = "; did you mean {by_lower}?"
MUST_BE_LOCAL_TIME = 'must be a local time like "07:00"'
MUST_BE_TWO_LOCAL = 'must be two local times like "21:30-06:30", or "" for none'
MUST_BE_TIME_LIKE = 'must be a time like "3:25:10"'
MUST_BE_MINUTES = 'must be minutes and seconds per km between {between}, like "4:20"'
MUST_BE_LOCAL_DATE = "must be a local date and time like 2026-10-04T13:47:00"
BPM_HIGHEST_THAT_WAS_EVER = "bpm, the highest that was ever measured"
MUST_BE_TO_LETTERS = "must be 1 to 64 letters, digits, - or _"
MUST_BE_YEAR = "must be a year from {oldest:g} to {youngest:g}"
HOLDS_TAB_OR_LIKE = "holds a tab or the like; write folders of Windows with strokes, C:/exports"
IS_FOLDER_OF_WINDOWS = "is a folder of Windows, and this machine has no such drives; where is it here?"
MUST_BE_ADDRESS = 'must be an address and a port like "127.0.0.1:8722"'
MUST_BE_WHERE_PEOPLE = 'must be where people find the page, like "https://fallow.example.org", without a path'
MUST_BE_2 = "must be {least:g} to {most:g} {unit}"
MUST_BE_WITHIN_DAYS = "must be within {ahead:g} days from now; is the year right?"
DID_YOU_MEAN_4 = '; did you mean "{near}"?'
MUST_BE_IANA_TIMEZONE = 'must be an IANA timezone like "Europe/Oslo"{hint}'
EVENT_CUSTOM_NEEDS_DISTANCE = 'event = "custom" needs distance_km'
RESULT_KM_TAKE = "result: {km:g} km take from {quickest} to {longest}, as hours:minutes:seconds"
INTENSITY_MODEL_THRESHOLD_NEEDS = 'intensity_model = "threshold" needs threshold_hr'
INTENSITY_MODEL_FIXED_NEEDS = 'intensity_model = "fixed" needs ceiling_zone1 and ceiling_zone2'
CEILING_ZONE_MUST_BE_LOWER = "ceiling_zone1 must be lower than ceiling_zone2"
THRESHOLD_HR_MUST_NOT_BE_HIGHER = "threshold_hr must not be higher than hr_max"
LISTEN_IS_REACHED = "listen: is reached from other machines, without https: {open_way}"
URL_IS_WITHOUT_HTTPS = "url: is without https: {open_way}"
MUST_BE_3 = "must be one of "
