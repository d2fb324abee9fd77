"""A home with pages: two athletes and their coach, read once; and browsers that follow links or make things up."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from monitor.clock import FixedClock
from monitor.home import Home
from monitor.pages.app import make_app
from monitor.pages.links import Links, PageOwner, session_of
from monitor.roster import read_roster
from monitor.store import findings
from monitor.store.database import Store
from rules.findings import Finding
from rules.limits import Limits, default_limits
from tests.homes import ROSTER, SECOND, exports, fallow, make_home, put

NOW = datetime.fromisoformat("2026-10-13T12:00:00+02:00")
HERE = "http://127.0.0.1:8722"
URL = "https://fallow.example.org"
PAGE = "\n[page]\n"
PUBLIC = f'\n[page]\nurl = "{URL}"\n'
RUNA, ODD, IDA = PageOwner("athlete", "runa"), PageOwner("athlete", "odd"), PageOwner("coach", "coach")


def make_pages_home(path: Path, page: str = PAGE) -> Path:
    """Runa and Odd have each run in the days off, and everything is read; their coach is Ida, and Per is nobody's."""
    text = ROSTER.format(url="json://127.0.0.1:9/nobody")
    race = '\n[[athlete.race]]\nevent = "marathon"\nfinish = 2026-10-04T13:47:00\n'
    stranger = SECOND.replace('"odd"', '"per"').replace("Odd Berg", "Per Moe").replace("exports/odd", "exports/per")
    stranger = stranger.replace('contacts = ["coach"]', "contacts = []")
    make_home(path, text + page + SECOND + race + stranger + race)
    for name in ("odd", "per"):
        put(path / f"exports/{name}/run.fit", exports()["2026-10-09_run.fit"])
    ran = fallow("scan", "--as-of", NOW.isoformat(), home=path)
    assert ran.status == 0, ran.err
    return path


@dataclass
class Pages:
    """An application over a home, whose pauses are counted and whose clock of limits is set by hand."""

    path: Path
    url: str = HERE
    clock: list[float] = field(default_factory=lambda: [1000.0])
    pauses: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.home = Home(self.path)
        self.links = Links(self.home)
        roster = read_roster(self.home.roster)
        self.app = make_app(self.home, roster, FixedClock(NOW), default_limits(), monotonic=lambda: self.clock[0])

        async def pause(seconds: float) -> None:
            self.pauses.append(seconds)

        self.app.state.pages.pause = pause

    def limited(self, limits: Limits) -> Pages:
        roster = read_roster(self.home.roster)
        self.app = make_app(self.home, roster, FixedClock(NOW), limits, monotonic=lambda: self.clock[0])
        return self

    def browser(self, address: str = "203.0.113.7") -> TestClient:
        """One that knows nobody."""
        return TestClient(
            self.app, base_url=self.url, client=(address, 4711), follow_redirects=False, raise_server_exceptions=False
        )

    def opened(self, reader: PageOwner = RUNA) -> TestClient:
        """One on which a new personal link was followed."""
        return self.following(self.links.make(reader, datetime.now(UTC)))

    def following(self, token: str) -> TestClient:
        browser = self.browser()
        answer = browser.get(f"/k/{token}")
        assert answer.status_code == 200, answer.text
        name, value = answer.headers["set-cookie"].split(";")[0].split("=")
        assert value == session_of(token)
        browser.cookies.clear()
        browser.headers["cookie"] = f"{name}={value}"
        return browser

    def standing(self, athlete: str = "runa") -> list[Finding]:
        with Store(self.home.store).reading() as con:
            return findings.standing(con, athlete)

    @property
    def folder(self) -> Path:
        return self.path / "exports/runa"

    @property
    def log(self) -> str:
        return self.home.pages_log.read_text("utf-8") if self.home.pages_log.exists() else ""


def hidden(page: Any, name: str) -> str:
    """The value of a hidden field of a form."""
    found = re.search(rf'name="{name}" value="([^"]*)"', page.text)
    assert found, page.text[-2000:]
    return found[1]


def filled(browser: TestClient, **answers: Any) -> dict[str, Any]:
    """A check-in as the form would send it."""
    form = browser.get("/checkin")
    return {"token": hidden(form, "token"), "once": hidden(form, "once"), **answers}


def sent(
    browser: TestClient, data: dict[str, Any], origin: str | None = None, to: str = "/checkin", **more: Any
) -> Any:
    headers = {"origin": str(browser.base_url).rstrip("/") if origin is None else origin}
    return browser.post(to, data=data, headers={key: value for key, value in headers.items() if value}, **more)


def words_of(answer: Any) -> str:
    """What a page says, without its markup."""
    body = answer.text.partition("<main>")[2].partition("</main>")[0]
    return " ".join(re.sub(r"<[^>]+>", " ", body).split())


@contextmanager
def copied(home: Path, to: Path) -> Iterator[Pages]:
    yield Pages(Path(shutil.copytree(home, to)))
