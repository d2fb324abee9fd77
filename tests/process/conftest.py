"""One real Chromium for all tests of what people look at."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field

import pytest
from playwright.sync_api import Browser, BrowserContext, expect, sync_playwright

from tests.process import warm
from tests.waiting import PATIENCE_SECONDS

warm.used = warm.POSSIBLE

BROWSERS = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")
"""The first that is there: the same engine without windows opens a page in a quarter of the time."""
CHROMIUM = next(filter(None, map(shutil.which, BROWSERS)), "")
expect.set_options(timeout=PATIENCE_SECONDS * 1000)
STANDARDS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@dataclass
class Seen:
    """What a page asked for and complained of."""

    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    if not CHROMIUM:
        pytest.fail("no Chromium is installed; `apt-get install chromium-headless-shell` puts one there")
    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        yield started
        started.close()


def patient(context: BrowserContext) -> BrowserContext:
    """What is awaited in it takes as long as a busy machine makes it."""
    context.set_default_timeout(PATIENCE_SECONDS * 1000)
    return context
