"""What stands around the news in a message, and what is said of channels and of what a try to send came to."""

from monitor.reasons import Why, reason

REPEAT = "This may be a repeat: the last time it was sent no answer came, so nobody knows whether it arrived."

NOT_TAKEN = reason("not_taken", "did not take it")

WHAT_TO_DO = {
    "unknown host": "no such host is known from here: correct the host in `urls`, or check this machine's network",
    "unreachable": "nothing answers at that host and port: check both, whether the service runs, and the network",
    "certificate": (
        "its certificate does not hold for this host: correct the host, or have the certificate renewed; where you"
        " made it yourself, set SSL_CERT_FILE to its file"
    ),
    "no encryption": "it offers no encryption: write mailtos:// with another port, or mailto:// with mode=insecure",
    "password": "correct user and password (or the token) in `urls`, or in the environment variable that holds them",
    "recipient": "the mail server does not take mail for this recipient: correct `to=` in `urls`",
    "refused": "the service does not take what is sent: check user, token and path in `urls` with the service",
    "not there": "the service answers, but has nothing at this path: correct path, topic or token in `urls`",
    "moved": "write the new address into `urls`; no redirect is followed, since it could carry the text to anyone",
    "busy": "nothing now; it is tried again when the service said",
    "server error": "the fault is the service's; it is tried again by itself",
    "no answer": "it may have arrived: look there; if it did, the service is slow, else check host and port",
    "desktop": "see what the service needs on this machine; a desktop notice works only where somebody is logged in",
    "unknown": "correct `urls` in the roster, or mend what it points to",
}  # fmt: skip

# Alerts: channels.
VARIABLE_NOT_SET = "${…} is not replaced; set it in the environment"
NO_APPRISE_URL = "not a URL that Apprise can send to; check the service's name and the parts it needs"
OTHER_SYSTEM = reason("other_system", "{url}:// works on that system only")
MISSING_HERE = reason("missing_here", "needs on this machine: {what}")
HOST_OR_PORT_UNREADABLE = "the host or the port cannot be read"
UNNAMED_LIBRARY = "a library that is not installed"
DESKTOP_REFUSED = reason("desktop_refused", "the desktop did not take it")
NO_SUCH_RECIPIENT = reason("no_such_recipient", "no such recipient in the roster any more")
BROKE_WHILE_SENDING = reason("broke_while_sending", "broke while sending ({kind})")
NO_APPRISE_CHANNEL = reason("no_apprise_channel", "no channel that Apprise can send to")

# Alerts: responses.
NO_ANSWER_IN_TIME = reason("no_answer_in_time", "no answer within {seconds:g} s")
UNREACHABLE = reason("unreachable", "could not be reached, or did not answer")
MAIL_SENDER_REFUSED = reason("mail_sender_refused", "the mail server did not take the sender ({code})")
MAIL_ANSWERED = reason("mail_answered", "the mail server answered {code}")
MAIL_RECIPIENT_REFUSED = reason("mail_recipient_refused", "the mail server refused the recipient ({code})")
MAIL_TEXT_REFUSED = reason("mail_text_refused", "the mail server refused the text ({code})")
ADDRESS_MOVED = reason("address_moved", "{said}: the address now points to {there}; not followed")
OTHER_PATH = "another path of the same host"
UNSAID_ADDRESS = "somewhere that is not said"
NO_ANSWER_TO_MESSAGE = reason("no_answer_to_message", "took the message and did not answer in time")
CERTIFICATE_INVALID = reason("certificate_invalid", "its certificate is not valid for this host")
NO_SUCH_HOST = reason("no_such_host", "no such host")
UNREACHABLE_IN_TIME = reason("unreachable_in_time", "could not be reached in time")
NO_TLS = reason("no_tls", "does not speak TLS there, or not as wanted")
MAIL_LOGIN_REFUSED = reason("mail_login_refused", "the mail server did not take user and password ({code})")
MAIL_WITHOUT_ENCRYPTION = reason("mail_without_encryption", "the mail server offers no encryption, or no log-in")
ANSWERED = reason("answered", "answered {status} ({phrase})")
PERHAPS_DELIVERED = reason("perhaps_delivered", "{reason}; perhaps delivered")

# Why a finding was told or not, and why a message stands as it does. Codes of one plain word say it themselves.
DEFERRED_UNTIL = "deferred until {until:%H:%M}"
for _code, _text in {
    Why.BELOW_RECEIVES: "below receives",
    Why.ALREADY_TOLD: "already told",
    Why.NOW_BELOW_RECEIVES: "now below receives",
    Why.CHANGED_UNREAD: "changed before it was read",
    Why.TAKEN_BACK: "taken back",
    Why.SENT_BEFORE: "sent before",
    Why.SENT_EARLIER: "sent before the store was begun anew",
    Why.ONE_A_DAY: "one a day",
    Why.TRIED_AGAIN: "tried again on request",
    Why.NO_CHANNEL: "no such channel in the roster",
    Why.DAY_OVER: "the day it was about is over",
    Why.GIVEN_UP: "gave up after a day",
    Why.PERHAPS_GIVEN_UP: "perhaps delivered; not sent again",
}.items():
    reason(_code, _text)

# Message.
DO_NO_MORE_TODAY = "Do no more today; rest."
EASE_TODAY = "Make the rest of today easier, shorter, or a rest day."
NOTHING_TO_DO = "Nothing to do; for the record."
NOTHING_MORE_TO_DO = (
    "Nothing more to do about it: newer data does not bear it out. The limits of the stage still apply."
)
SIGN_CORRECTED = "The check-in was corrected and no longer says so. Whoever felt it asks a doctor before any sport."
FILES_ARRIVE_AGAIN = "files arrive again"
TOLD_BEFORE = "You were told: {title}."
DETAILS = "Details: {ask}fallow explain {id}"
ADDS_TO_EARLIER = "This adds to what you were told before."
NO_LONGER_HOLDS = "No longer holds:"
SILENCE_IS_OVER = "Nothing to do: the silence is over, and what arrived is judged as always."
