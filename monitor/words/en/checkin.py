"""Questions and answers of a check-in, of holds and releases."""

SYMPTOMS = (
    "chest pain",
    "fainting",
    "confusion",
    "short of breath at rest",
    "racing heart at rest",
    "dark urine",
    "one swollen calf",
    "fever",
    "severe headache",
    "vomiting",
    "blood in the stool",
    "a numb leg",
    "a blow to the head",
    "pain that makes me limp",
)
"""What is asked for by name, in words that the list of signs knows."""

# Checkins.
CHECK_IN_WITHOUT_ANSWER = "a check-in without an answer; nothing was written"
ATHLETES_FOLDER_IS_NOT = "{folder}: the athlete's folder is not there; connect it or create it, then check in again"
NOTHING_TOLD_BEFORE_IS_CALLED = "Nothing told before is called {text!r}."
CHECK_IN_COULD_NOT_BE_WRITTEN = "{place}: the check-in could not be written ({why}); nothing was changed"
GONE_SYMPTOM_OR_SEEN = ". --gone SYMPTOM or --seen-doctor --by NAME answers it."

# Cli: checkins.
IS_READ_AT_NEXT = "It is read at the next `fallow scan`, or at once where `fallow watch` runs."
CAN_YOU_TAKE_STAIRS = "1/5  Can you take stairs without holding on, and do a deep squat without help? (y/n)"
SORENESS_OF_MUSCLES = "2/5  Soreness of the muscles, 0 to 10?"
PAIN_IN_ONE_PLACE = "3/5  Pain in one place, 0 to 10?"
ANYTHING_LIKE_CHEST_PAIN = (
    "5/5  Anything like chest pain, fainting, fever, dark urine, a swollen calf? (English words, commas between)"
)
BY_SAYS_WHICH_DOCTOR = "--by says which doctor it was; give --seen-doctor with it"
DATE_LIES_AHEAD_CHECK = "--date {date}: lies ahead; a check-in tells of a day up to today, {today}"
MUST_BE_NUMBER = "--{name} {text!r}: must be a number from 0 to 10"
CAN_YOU_TAKE_STAIRS_UP = "       Can you take stairs up and down without holding on? (y/n)"
CAN_YOU_DO_DEEP = "       Can you do a deep squat without help? (y/n)"
HAS_DOCTOR_LOOKED = "Has a doctor looked at it? (y/n)"
Y_OR_N = "       y or n, or nothing to skip"
YOU_TOLD = "You told of {told!r} on {day}: is it gone? (y/n)"
NO_ANSWERS_ON_STANDARD = (
    "no answers on standard input; run it in a terminal, or give flags such as --soreness 3 --pain 0"
)
NUMBER_FROM = "       a number from 0 to 10, or nothing to skip"

# Overriding.
DAYS_MUST = "--days {days}: must be from 1 to {longest_hold_days}"
ONLY_WHAT_WAS_ANSWERED = "only what was answered in the last {undo_minutes} minutes can be taken back"
THERE_IS_NOTHING_OF_YOURS = "there is nothing of yours to take back there"
