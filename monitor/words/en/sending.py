"""What is said of channels, and of what a try to send came to."""

GIVEN_UP = "gave up after a day"

PERHAPS_GIVEN_UP = "perhaps delivered; not sent again"

REPEAT = "This may be a repeat: the last time it was sent no answer came, so nobody knows whether it arrived."

DID_NOT = "did not take it"

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
IS_NOT_REPLACED = "${…} is not replaced; set it in the environment"
NOT_URL_THAT_APPRISE = "not a URL that Apprise can send to; check the service's name and the parts it needs"
WORKS_ON_THAT_SYSTEM = "{url}:// works on that system only"
NEEDS_ON_THIS_MACHINE = "needs on this machine: "
HOST_OR_PORT_CANNOT_BE_READ = "the host or the port cannot be read"
LIBRARY_THAT_IS_NOT_INSTALLED = "a library that is not installed"
DESKTOP_DID_NOT_TAKE = "the desktop did not take it"
NO_SUCH_RECIPIENT_IN_ROSTER = "no such recipient in the roster any more"
BROKE_WHILE_SENDING = "broke while sending ({kind})"
NO_CHANNEL_THAT_APPRISE = "no channel that Apprise can send to"

# Alerts: leases.
NO_SUCH_CHANNEL_IN_ROSTER = "no such channel in the roster"

# Alerts: responses.
NO_ANSWER_WITHIN_S = "no answer within {seconds:g} s"
COULD_NOT_BE_REACHED = "could not be reached, or did not answer"
MAIL_SERVER_DID_NOT_TAKE = "the mail server did not take the sender ({code})"
MAIL_SERVER_ANSWERED = "the mail server answered {code}"
MAIL_SERVER_REFUSED_RECIPIENT = "the mail server refused the recipient ({code})"
MAIL_SERVER_REFUSED_TEXT = "the mail server refused the text ({code})"
ADDRESS_NOW_POINTS = "{said}: the address now points to {there}; not followed"
ANOTHER_PATH_OF_SAME = "another path of the same host"
SOMEWHERE_THAT_IS_NOT_SAID = "somewhere that is not said"
TOOK_MESSAGE_AND_DID_NOT_ANSWER = "took the message and did not answer in time"
CERTIFICATE_IS_NOT_VALID = "its certificate is not valid for this host"
NO_SUCH_HOST = "no such host"
COULD_NOT_BE_REACHED_IN_TIME = "could not be reached in time"
DOES_NOT_SPEAK_TLS = "does not speak TLS there, or not as wanted"
MAIL_SERVER_DID_NOT_TAKE_USER = "the mail server did not take user and password ({code})"
MAIL_SERVER_OFFERS_NO_ENCRYPTION = "the mail server offers no encryption, or no log-in"

# Alerts: routing.
NOW_BELOW_RECEIVES = "now below receives"
CHANGED_BEFORE_IT_WAS_READ = "changed before it was read"
