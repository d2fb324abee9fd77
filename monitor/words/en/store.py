"""What is said of the store and the journal."""

STORE_REBUILT = (
    "The store was damaged. It was set aside in the home folder, and a new one is read from the folders and the"
    " journal; nothing that was sent is sent again. If this comes back, look after the disk."
)
"""Told to the owner by whoever finds it."""

BEING_SENT = "a message is being sent; try again in a moment"

BROKEN_DO = "`fallow scan`, `watch` or `rebuild` sets it aside and reads the folders again"

# Errors.
DOCTOR_SAYS_WHAT_IS_WRONG = "`fallow doctor` says what is wrong with it"

# Store: database.
STORE_CANNOT_BE_OPENED = "{name}: the store cannot be opened, its file is damaged; {broken_do}"
DATABASE_FAILED = "{name}: the database failed ({kind})"
DISK_IS_FULL = "{name}: the disk is full; free some space, nothing was lost"
WRITTEN_BY_NEWER_DATABASE = "{name}: written by a newer database engine; update fallow, nothing was touched"
UNINSTALLED_COPY = "an uninstalled copy"
WRITTEN_BY_NEWER_FALLOW = (
    "{name}: written by a newer fallow ({newer}), and this is {version}; update fallow, nothing was touched"
)

# Store: journal.
CANNOT_BE_WRITTEN = "{name}: cannot be written ({why}); free some space or mend its permissions"
CANNOT_BE_READ = "{name}: cannot be read ({why}); mend its permissions"
ONLY_PART_COULD_BE_WRITTEN = "only a part could be written"

# Store: store lock.
ANOTHER_PROCESS_HOLDS_STORE = "{name}: another process holds the store; try again in a moment"
GUARD_CANNOT_BE_WRITTEN = "{name}: cannot be written ({why}); check the home"
HOME_WITHOUT_LOCKS = "the home folder's file system has no locks ({why}); use a local one"

# Transaction.
NOTICE_OF_PLAN = "{id}: how the plan goes on"
NOTICE_OF_UNREADABLE = "{athlete_id}: that files cannot be read"
NOTICE_OF_FIRST_LOOK = "{id}: what the first look brought"
