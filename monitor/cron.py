"""A crontab line that works in cron's own environment: whole paths, secrets from a file that its owner alone reads."""

from __future__ import annotations

import os
import shlex
import sys
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from monitor import words
from monitor.errors import WorkFailed
from monitor.home import Home, replace_file
from monitor.roster import Roster
from monitor.roster.read import names_in

EVERY = "*/5 * * * *"
IN_PYTHON = "from monitor.cli.main import run; run()"


def this_program() -> list[str]:
    """How this program is called by whole paths."""
    called = Path(sys.argv[0]).absolute()
    if called.name.startswith("fallow") and os.access(called, os.X_OK):
        return [str(called)]
    return [sys.executable, "-c", IN_PYTHON]


def names_needed(roster: Roster) -> list[str]:
    """Names of the environment that a roster's addresses, as written, need."""
    return list(dict.fromkeys(name for contact in roster.contacts for url in contact.urls for name in names_in(url)))


def keep_secrets(home: Home, names: Iterable[str], environment: Mapping[str, str]) -> Path | None:
    """Write the values for a shell into a file of mode 0600, replaced in one step; None where nothing is needed."""
    lines = [f"{name}={shlex.quote(environment[name])}\n" for name in names]
    if not lines:
        return None
    try:
        replace_file(home.secrets, "".join(lines).encode())
    except OSError as error:
        raise WorkFailed(words.doctor.COULD_NOT_BE_WRITTEN.format(secrets=home.secrets, why=error.strerror)) from None
    return home.secrets


def crontab_line(home: Home, program: Sequence[str], secrets: Path | None) -> str:
    """A scan every five minutes; what it has to complain of is left to cron, which mails it to the user."""
    scan = f"{shlex.join([*program, 'scan', '--home', str(home.path)])} >/dev/null"
    command = f"set -a; . {shlex.quote(str(secrets))}; set +a; {scan}" if secrets else scan
    return f"{EVERY} " + command.replace("%", r"\%")  # a plain % ends the line for cron
