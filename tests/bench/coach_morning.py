"""A coach's morning on a phone: an answer for each of 40 athletes. Run by hand: python -m tests.bench.coach_morning [N]

Chromium with a window of a phone, its processor slowed to a sixth, and `fallow serve` in a process of its own. Every
line is seen with a tap; every fourth athlete is held (two taps), every tenth released with a reason (two taps).
Told are the taps, and the time from a tap until its line says so; the time to read and to think is the coach's.
"""

from __future__ import annotations

import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from monitor.home import Home
from monitor.pages.links import Links, PageOwner
from tests.bench.machine import about
from tests.bench.many_athletes import NOW, many_athletes
from tests.process.daemons import PROGRAM, ROOT, surroundings
from tests.waiting import free_port

SLOWER = 6
BUDGET_SECONDS = 180


def answered(page: Page, athlete: str, *taps: str) -> tuple[int, float]:
    """How many taps, and seconds until the line has been put anew."""
    line = page.locator(f"#{athlete}")
    mark = line.get_attribute("data-mark")
    begun = time.perf_counter()
    for words in taps:
        line.locator(".act:visible", has_text=words).first.tap()
    page.wait_for_function("([id, mark]) => document.getElementById(id).dataset.mark !== mark", arg=[athlete, mark])
    return len(taps), time.perf_counter() - begun


def main(athletes: int) -> None:
    print(about())
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        home, port = Home(Path(folder) / "home"), free_port()
        many_athletes(home, athletes)
        text = home.roster.read_text("utf-8")
        home.roster.write_text(f'[page]\nlisten = "127.0.0.1:{port}"\n\n{text}', "utf-8")
        coach = text.partition('id = "')[2].partition('"')[0]
        token = Links(home).make(PageOwner("coach", coach), NOW)
        command = [*PROGRAM, "serve", "--as-of", NOW.isoformat(), "--home", str(home.path)]
        server = subprocess.Popen(command, cwd=ROOT, env=surroundings(), stdout=subprocess.PIPE)
        try:
            assert server.stdout is not None
            server.stdout.readline()
            browser = play.chromium.launch(
                executable_path=shutil.which("chromium") or shutil.which("google-chrome"),
                args=["--no-sandbox", "--disable-gpu"],
            )
            context = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True)
            page = context.new_page()
            context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
            begun = time.perf_counter()
            page.goto(f"http://127.0.0.1:{port}/k/{token}")
            page.locator("ol.coach > li").first.wait_for()
            print(f"the board is there after {time.perf_counter() - begun:.1f} s, {len(page.content()) / 1e3:.0f} kB")
            lines = page.eval_on_selector_all("ol.coach > li", "all => all.map(each => each.id)")
            told: list[tuple[int, float]] = []
            for number, athlete in enumerate(lines):
                if page.locator(f"#{athlete} .act.first").count():
                    told.append(answered(page, athlete, "Seen"))
                if number % 4 == 0:
                    told.append(answered(page, athlete, "Hold", "3 days"))
                if number % 10 == 0:
                    told.append(answered(page, athlete, "Release", "talked it over"))
            waited = sorted(seconds for _, seconds in told)
            used = sum(waited)
            print(
                f"{len(lines)} athletes, {len(told)} answers, {sum(taps for taps, _ in told)} taps, no keyboard: "
                f"{used:.0f} s waited in all, median {statistics.median(waited):.2f} s, p95 "
                f"{waited[int(0.95 * (len(waited) - 1))]:.2f} s, worst {waited[-1]:.2f} s; "
                f"{(BUDGET_SECONDS - used) / len(lines):.1f} s an athlete are left to read within three minutes"
            )
            browser.close()
        finally:
            server.terminate()
            server.wait()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
