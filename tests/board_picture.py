"""The README's picture of the board, made again from the demo. Run by hand: python -m tests.board_picture"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from monitor.board import write
from monitor.demo import CHAPTERS, staged
from monitor.home import Home
from monitor.store.database import Store
from rules.limits import default_limits

PICTURE = Path(__file__).parents[1] / ".pictures" / "board.png"
WIDTH, HEIGHT = 1240, 1180


def main() -> None:
    chromium = shutil.which("chromium") or shutil.which("google-chrome")
    assert chromium, "chromium is not installed"
    with tempfile.TemporaryDirectory() as folder, staged(Home(Path(folder) / "home")) as demo:
        for _ in demo.chapters():
            pass
        board = write(demo.home, demo.roster, Store(demo.home.store), demo.now, default_limits())
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
            page = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT}, color_scheme="light")
            page.goto(board.as_uri())
            PICTURE.parent.mkdir(exist_ok=True)
            page.screenshot(path=PICTURE)
            browser.close()
    print(f"{PICTURE.relative_to(Path.cwd())}: {PICTURE.stat().st_size / 1000:.0f} kB, as of {CHAPTERS[-1].until:%F}")


if __name__ == "__main__":
    main()
