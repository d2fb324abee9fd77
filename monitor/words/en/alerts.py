"""What stands around the news in a message: what to do, what was told before."""

# Message.
DO_NO_MORE_TODAY = "Do no more today; rest."
EASIER_REST_OF_TODAY = "Make the rest of today easier, shorter, or a rest day."
NOTHING_TO_DO = "Nothing to do; for the record."
NOTHING_MORE_TO_DO = (
    "Nothing more to do about it: newer data does not bear it out. The limits of the stage still apply."
)
SIGN_WAS_CORRECTED = "The check-in was corrected and no longer says so. Whoever felt it asks a doctor before any sport."
FILES_ARRIVE_AGAIN = "files arrive again"
YOU_WERE_TOLD = "You were told: {title}."
DETAILS_FALLOW_EXPLAIN = "Details: {ask}fallow explain {id}"
ADDS_TO_EARLIER = "This adds to what you were told before."
NO_LONGER_HOLDS = "No longer holds:"
SILENCE_IS_OVER = "Nothing to do: the silence is over, and what arrived is judged as always."
