"""What `fallow demo` tells."""

# Demo.
DEMO_IS_INVENTED = (
    "{name} is invented, and so are her race and these recordings. The program is real: her exports "
    "arrive in a folder, are read into a store and judged against her way back from the race, and alerts "
    "go to a target on this machine. Watch the story; it takes half a minute."
)
WHERE_THINGS_STAND = "Where things stand"
HER_PLAN = "Her plan, as it was held"
FILES_SEEN = "{files} files seen. What was not simply read:"
MESSAGES_WERE_SENT = "{sent} of {alerts} messages were sent, each once; reading the same files again sends none."
WHAT_TO_TRY_NEXT = "What to try next, on the same home:"
FOR_YOURSELF = "And for yourself: {called} init"
AS_WITH = 'As with: fallow release {id} --why "{release}"'
NOTHING_TO_SAY = "Nothing to say: no finding, no alert."

# Demo.
EVENING_AFTER_RACE = (
    "The evening after the race. Ten weeks of training, the race and six weeks of nights lie in the "
    "folder and are read for the first time."
)
EASY_WALKS_SO_FAR = "Easy walks so far. Today she saved the way home as a walk, and it was not quite one."
SWIM_AND_RIDE = "A swim and a ride, both fine. Tonight she writes that she takes the stairs by the rail."
CROSS_TRAINING_WOULD_BEGIN = "Cross-training would begin today. The stairs still need the rail."
STAIRS_ARE_FINE = "Stairs are fine. A ride of 52 minutes with coffee in the middle, saved twice."
STRENGTH_WAS_FINE = "Strength was fine. Today's ride ran long, and a second copy of it broke off in the sync."
EVENING_ON_HILL_WITH_FRIENDS = "An evening on the hill with friends."
THREE_SHORT_NIGHTS_LATER = "Three short nights later; the check-in says heavy legs."
COACH_AND_ATHLETE = "Coach and athlete have talked; the coach lets the test runs begin. The first one is easy."
EASY_RIDE = "An easy ride, and a test run in which the sensor showed her step rate, 164, for six minutes."
TALKED_IT_OVER = "talked it over; she has slept, and the hill stays off the list"
SAMPLE_EXPORTS = "sample_exports: not found beside the program; install fallow again, or run it from a checkout"
NOT_EMPTY = "{path}: not empty; the demo wants a new folder, or none to make one itself"
