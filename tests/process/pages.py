"""A home whose pages are served beside a real daemon, nine days after a race, while a stage waits for a check-in."""

from __future__ import annotations

import json
import os
import signal
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tests.homes import fallow
from tests.process.daemons import HURRIED, Daemon, until
from tests.targets import Target, http_target
from tests.waiting import free_port


@dataclass
class Site:
    home: Path
    url: str
    daemon: Daemon
    target: Target

    @property
    def folder(self) -> Path:
        return self.home / "exports/runa"

    def link(self, person: str = "runa") -> str:
        return str(fallow("link", person, "--json", home=self.home).json()["link"])

    def told(self, whose: str, words: str) -> str:
        """The text of a message to a contact in which these words are, once it has arrived."""
        until(lambda: self._found(whose, words), f"a message with {words!r}, in {self.target.titles}")
        return self._found(whose, words)

    def _found(self, whose: str, words: str) -> str:
        found = [one for one in self.target.accepted if one.path == f"/{whose}" and words in one.title + one.body]
        return found[-1].title + "\n" + found[-1].body if found else ""

    @property
    def checkins(self) -> list[dict[str, object]]:
        """Those that were sent from pages."""
        found = sorted((self.folder / "checkins").glob("*-*-*-*.checkin.json"))
        return [json.loads(path.read_text("utf-8")) for path in found]


def pages_home(path: Path, target: Target, port: int, now: datetime | None = None) -> Path:
    """Runa's stairs were not managed on day 7, so cross-training waits."""
    home = path / "home"
    folder = home / "exports/runa"
    (folder / "checkins").mkdir(parents=True)
    now = now or datetime.now(UTC)
    finish = (now - timedelta(days=9)).replace(hour=0, minute=30)
    contacts = "".join(
        f'[[contact]]\nid = "{one}"\nname = "{name}"\nurls = ["{target.url(f"/{one}")}"]\nrole = "{role}"\n\n'
        for one, name, role in (("coach", "Coach Ida", "coach"), ("own", "Runa Vik", "athlete"))
    )
    (home / "roster.toml").write_text(
        f"""[alerts]
quiet_hours = ""
silent_after_hours = 600

[page]
listen = "127.0.0.1:{port}"
url = "http://127.0.0.1:{port}"

{contacts}[[athlete]]
id = "runa"
name = "Runa Vik"
folder = "exports/runa"
timezone = "UTC"
born = 1991
hr_max = 188
contacts = ["coach", "own"]

[[athlete.race]]
event = "marathon"
finish = {finish.strftime("%Y-%m-%dT%H:%M:%S")}
""",
        "utf-8",
    )
    stiff = {"date": (finish + timedelta(days=7)).date().isoformat(), "stairs_unaided": False, "pain": 1}
    path = folder / "checkins/stiff.checkin.json"
    path.write_text(json.dumps(stiff), "utf-8")
    os.utime(path, (finish.timestamp(), finish.timestamp()))
    return home


@contextmanager
def served(path: Path, more: Sequence[str] = (), now: datetime | None = None) -> Iterator[Site]:
    """`fallow watch --serve`, both of them ready; the second message of a burst waits two seconds."""
    with http_target() as target:
        port = free_port()
        home = pages_home(path, target, port, now)
        command = (sys.executable, "-c", HURRIED % 2, "watch", "--serve", *more, "--home", str(home))
        daemon = Daemon(home, command=command)
        try:
            until(lambda: {"watching 1 folders", f"serving on http://127.0.0.1:{port}, for http://127.0.0.1:{port}"}
                  <= set(daemon.said), "both are ready")  # fmt: skip
            yield Site(home, f"http://127.0.0.1:{port}", daemon, target)
        finally:
            if daemon.process.poll() is None:
                daemon.end(signal.SIGTERM)
