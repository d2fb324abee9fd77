"""How soon a phone shows the board of 200 athletes. Run by hand: python -m tests.bench.board_paint [N]

Chromium with a window of a phone and its processor slowed to a sixth, as its own protocol does it; every load begins
with an empty cache. First paint and largest paint are those that the browser tells itself, from the start of the load.
"""

from __future__ import annotations

import shutil
import statistics
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from monitor.board import write
from monitor.home import Home
from monitor.store.database import Store
from rules.limits import default_limits
from tests.bench.machine import about
from tests.bench.many_athletes import NOW, many_athletes

SLOWER = 6
LOADS = 7
PAINTS = """() => new Promise(done => {
    const found = {};
    const keep = (each, name) => { found[each.name || name] = each.startTime };
    const kept = name => entries => entries.getEntries().forEach(each => keep(each, name));
    new PerformanceObserver(kept('largest')).observe({type: 'largest-contentful-paint', buffered: true});
    new PerformanceObserver(kept('paint')).observe({type: 'paint', buffered: true});
    setTimeout(() => {
        found.loaded = performance.getEntriesByType('navigation')[0].loadEventEnd;
        done(found);
    }, 1500);
})"""


def paints(browser: Browser, page_file: Path) -> dict[str, float]:
    """Milliseconds to each paint of one load."""
    with browser.new_context(viewport={"width": 360, "height": 740}, device_scale_factor=2) as context:
        page = context.new_page()
        context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
        page.goto(page_file.as_uri(), wait_until="load")
        found: dict[str, float] = page.evaluate(PAINTS)
    return found


def main(athletes: int) -> None:
    print(about())
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        home = Home(Path(folder) / "home")
        roster = many_athletes(home, athletes)
        board = write(home, roster, Store(home.store), NOW, default_limits())
        own = home.path / "board" / "a0.html"
        chromium = shutil.which("chromium") or shutil.which("google-chrome")
        browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        for name, path in (("board", board), ("an athlete's page", own)):
            told = [paints(browser, path) for _ in range(LOADS)]
            said = ", ".join(
                f"{what} {statistics.median(each[what] for each in told):.0f} ms"
                f" (worst {max(each[what] for each in told):.0f})"
                for what in ("first-contentful-paint", "largest", "loaded")
                if all(what in each for each in told)
            )
            print(f"{name}, {path.stat().st_size / 1e6:.2f} MB, a processor {SLOWER} times slower: {said}")
        browser.close()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
