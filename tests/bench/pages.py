"""What the pages cost: 50 phones that check in within a minute beside a backfill, rest, and first paint on a phone.

Run by hand: python -m tests.bench.pages [PHONES] [FILES] [MINUTES]

Each phone opens its link, the day, the check-in, sends it and gets the new day, as one person does, begun at even
distances over a minute while the daemon reads a folder of new files. Then nobody asks, and the process is looked at. At
last Chromium with a processor slowed to a sixth loads the day, over the network and with an empty cache.
"""

from __future__ import annotations

import http.client
import re
import shutil
import statistics
import sys
import tempfile
import threading
import time
import urllib.parse
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from playwright.sync_api import sync_playwright

from monitor.home import Home
from monitor.pages.links import Links, PageOwner
from tests.bench import machine
from tests.bench.backfill import recording_at
from tests.bench.board_paint import PAINTS, SLOWER
from tests.bench.many_athletes import NOW, many_athletes
from tests.process.daemons import Daemon
from tests.waiting import free_port

WITHIN_SECONDS = 60.0
AS_OF = (NOW + timedelta(minutes=1)).isoformat()
"""Not the noon at which check-ins without a time of day count."""
LOADS = 7
ANSWERS = {"stairs_unaided": "yes", "squat_unaided": "yes", "soreness": "2", "pain": "0", "energy": "7", "mood": "8"}
BACKFILLED = '\n[[athlete]]\nid = "back"\nfolder = "exports/back"\ntimezone = "UTC"\nhr_max = 190\n'


@dataclass
class Told:
    """Seconds of each kind of question, from the first byte sent to the last received."""

    seconds: dict[str, list[float]] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)

    def add(self, kind: str, seconds: float) -> None:
        self.seconds.setdefault(kind, []).append(seconds)


class Phone:
    def __init__(self, port: int, told: Told) -> None:
        self._connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        self._origin = f"http://127.0.0.1:{port}"
        self._told = told
        self._cookie = ""

    def ask(self, kind: str, path: str, form: dict[str, str] | None = None) -> str:
        begun = time.perf_counter()
        body = urllib.parse.urlencode(form) if form else None
        headers = {"Cookie": self._cookie, "Origin": self._origin} | (
            {"Content-Type": "application/x-www-form-urlencoded"} if form else {}
        )
        self._connection.request("POST" if form else "GET", path, body, headers)
        answer = self._connection.getresponse()
        text = answer.read().decode()
        self._told.add(kind, time.perf_counter() - begun)
        if answer.status not in (200, 303):
            self._told.wrong.append(f"{kind} {answer.status}")
        if cookie := answer.headers.get("set-cookie"):
            self._cookie = cookie.split(";")[0]
        return text

    def visit(self, link: str) -> None:
        self.ask("link", f"/k/{link}")
        self.ask("day", "/")
        form = dict(re.findall(r'name="(token|once)" value="([^"]*)"', self.ask("form", "/checkin")))
        begun = time.perf_counter()
        self.ask("send", "/checkin", form | ANSWERS)
        said = self.ask("new day", "/?noted")
        self._told.add("sent to new day", time.perf_counter() - begun)
        if "Noted today: stairs yes" not in said:
            self._told.wrong.append("not answered")


def crowd(home: Home, port: int, phones: int, files: int) -> None:
    """The phones, while the daemon reads so many files of an hour each."""
    fresh = [recording_at(datetime(2015, 1, 1, 6, tzinfo=UTC) + timedelta(days=n), n) for n in range(files)]
    links = Links(home)
    tokens = [links.make(PageOwner("athlete", f"a{n}"), datetime.now(UTC)) for n in range(phones)]
    told = Told()
    serve, watch = (Daemon(home.path, command=(one, "--as-of", AS_OF)) for one in ("serve", "watch"))
    try:
        serve.ready()
        watch.ready()
        Phone(port, Told()).visit(tokens[0])  # the first brings the database
        folder = home.path / "exports/back"
        for n, content in enumerate(fresh):
            (folder / f"{n}.fit").write_bytes(content)
        before, begun = machine.tree(serve.process.pid), time.monotonic()
        threads = []
        for n, token in enumerate(tokens):
            time.sleep(max(0.0, begun + n * WITHIN_SECONDS / phones - time.monotonic()))
            threads.append(threading.Thread(target=Phone(port, told).visit, args=(token,)))
            threads[-1].start()
        for one in threads:
            one.join()
        after, seconds = machine.tree(serve.process.pid), time.monotonic() - begun
        busy = machine.tree(watch.process.pid)
    finally:
        for one in (serve, watch):
            one.end()
    print(f"{phones} phones in {seconds:.0f} s beside {files} new files; wrong answers: {told.wrong or 'none'}")
    for kind, values in told.seconds.items():
        p95 = statistics.quantiles(values, n=20)[-1]
        print(f"  {kind:16} median {statistics.median(values):.3f} s, p95 {p95:.3f} s, worst {max(values):.3f} s")
    used = after.cpu_seconds - before.cpu_seconds
    print(f"  processor of the pages {used:.1f} s, {used / phones:.3f} s a phone; {after.resident_mb:.0f} MB")
    print(f"  processor of the daemon and its workers meanwhile {busy.cpu_seconds:.0f} s of {seconds * 2:.0f}")


def rest(home: Home, minutes: float) -> None:
    """What a process costs that nobody asks, after it was used, once it has begun anew."""
    token = Links(home).make(PageOwner("athlete", "a0"), datetime.now(UTC))
    serve = Daemon(home.path, command=("serve", "--as-of", AS_OF))
    try:
        serve.ready()
        port = int(re.findall(r":(\d+)", serve.said[0])[0])
        Phone(port, Told()).visit(token)
        used = machine.tree(serve.process.pid)
        while "again=True" not in home.pages_log.read_text("utf-8"):
            time.sleep(2)
        time.sleep(20)
        before, begun = machine.tree(serve.process.pid), time.monotonic()
        time.sleep(minutes * 60)
        after, seconds = machine.tree(serve.process.pid), time.monotonic() - begun
        cold = time.perf_counter()
        Phone(port, Told()).visit(token)
        cold = time.perf_counter() - cold
    finally:
        serve.end()
    share = (after.cpu_seconds - before.cpu_seconds) / seconds
    print(f"at rest: {share:.3%} of a core, {after.resident_mb:.0f} MB (in use {used.resident_mb:.0f} MB)")
    print(f"the first visit after it, from link to new day: {cold:.1f} s")


def paint(home: Home, port: int) -> None:
    """First paint of the day on a phone."""
    token = Links(home).make(PageOwner("athlete", "a0"), datetime.now(UTC))
    serve = Daemon(home.path, command=("serve", "--as-of", AS_OF))
    told: list[dict[str, float]] = []
    try:
        serve.ready()
        with sync_playwright() as play:
            chromium = shutil.which("chromium") or shutil.which("google-chrome")
            browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
            for _ in range(LOADS):
                with browser.new_context(viewport={"width": 360, "height": 740}, device_scale_factor=2) as context:
                    page = context.new_page()
                    page.goto(f"http://127.0.0.1:{port}/k/{token}")
                    page.wait_for_url(f"http://127.0.0.1:{port}/")
                    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
                    page.goto(f"http://127.0.0.1:{port}/?again")
                    told.append(page.evaluate(PAINTS))
            browser.close()
    finally:
        serve.end()
    values = [one["first-contentful-paint"] for one in told]
    print(
        f"first paint of the day, a processor {SLOWER} times slower: {machine.spread([one / 1000 for one in values])} s"
    )


def main(phones: int, files: int, minutes: float) -> None:
    print(machine.about())
    with tempfile.TemporaryDirectory() as folder:
        home, port = Home(Path(folder) / "home"), free_port()
        many_athletes(home, phones)
        text = home.roster.read_text("utf-8")
        home.roster.write_text(f'[page]\nlisten = "127.0.0.1:{port}"\n\n' + text + BACKFILLED, "utf-8")
        (home.path / "exports/back").mkdir(parents=True)
        crowd(home, port, phones, files)
        paint(home, port)
        if minutes:
            rest(home, minutes)


if __name__ == "__main__":
    given = sys.argv[1:]
    main(int(given[0]) if given else 50, int(given[1]) if given[1:] else 400, float(given[2]) if given[2:] else 10)
