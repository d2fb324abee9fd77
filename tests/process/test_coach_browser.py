"""The coach's pages in a real Chromium at 360 px, beside a real daemon: seen, hold, release, undo, live."""

from __future__ import annotations

import re
from collections.abc import Iterator
from importlib import resources
from typing import Any
from urllib.request import urlopen

import pytest
from ical.calendar_stream import IcsCalendarStream
from playwright.sync_api import Browser, BrowserContext, Page

from tests.homes import fallow
from tests.process.conftest import STANDARDS, Seen, patient
from tests.process.daemons import told, until
from tests.process.pages import Site, served
from tests.process.test_board_browser import REACHING_OUT
from tests.waiting import PATIENCE_SECONDS

WIDTH = 360
LINE = "#a-runa"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    with served(tmp_path_factory.mktemp("coach")) as running:
        running.told("coach", "stairs")
        yield running


def _phone(browser: Browser, **options: Any) -> BrowserContext:
    return patient(browser.new_context(viewport={"width": WIDTH, "height": 740}, has_touch=True, **options))


def _opened(context: BrowserContext, site: Site) -> tuple[Page, Seen]:
    page, seen = context.new_page(), Seen()
    page.on("console", lambda said: seen.complaints.append(said.text))
    page.on("pageerror", lambda error: seen.complaints.append(str(error)))
    page.on("request", lambda asked: seen.requests.append(asked.url))
    page.goto(site.link("coach"))
    page.wait_for_url(f"{site.url}/")
    return page, seen


def _tap(page: Page, words: str) -> None:
    """A button or a fold of the line, by what it says."""
    page.locator(f"{LINE} .act:visible", has_text=re.compile(f"^{words}$")).first.tap()


def _says(page: Page, words: str) -> None:
    page.locator(LINE, has_text=words).wait_for()


def _holds(site: Site) -> list[tuple[str, int | None, str, str]]:
    return [(one["kind"], one["days"], one["why"], one["by"]) for one in told("plan", "runa", home=site.home)["holds"]]


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
def test_the_coach_sees_holds_takes_back_and_releases_and_the_plan_and_the_athlete_hear_of_it(
    browser: Browser, tmp_path: Any, scripts: bool
) -> None:
    with served(tmp_path) as site, _phone(browser, java_script_enabled=scripts) as context:
        alert = site.told("coach", "stairs")
        page, seen = _opened(context, site)
        finding = re.search(rf"{site.url}(/f/[0-9a-f]+)", alert)
        assert finding
        page.goto(site.url + finding[1])
        assert "Stairs not managed unaided" in page.inner_text("main")
        page.goto(f"{site.url}/")
        _says(page, "stairs")
        _tap(page, "Seen")
        _says(page, "seen (stairs test) by Coach Ida")
        assert all(one["seen"] for one in told("findings", "runa", home=site.home))
        _tap(page, "Undo")
        page.locator(f"{LINE} .first", has_text="Seen").wait_for()
        assert not any(one["seen"] for one in told("findings", "runa", home=site.home))
        _tap(page, "Hold")
        _tap(page, "3 days")
        _says(page, "for 3 days by Coach Ida")
        assert _holds(site) == [("hold", 3, "", "Coach Ida")]
        _tap(page, "Undo")
        page.locator(f"{LINE} .answered").wait_for(state="detached")
        assert _holds(site) == []
        _tap(page, "Release")
        _tap(page, "seen by a physiotherapist")
        _says(page, "by Coach Ida: seen by a physiotherapist")
        assert _holds(site) == [("release", None, "seen by a physiotherapist", "Coach Ida")]
        assert told("plan", "runa", home=site.home)["today"]["stage"] == "cross_training"
        site.told("own", "Cross-training begins today")
        assert [url for url in seen.requests if not url.startswith(site.url)] == []
        assert seen.complaints == []


def test_what_changes_elsewhere_changes_on_the_open_board_and_nothing_else_does(browser: Browser, site: Site) -> None:
    with _phone(browser) as context:
        page, seen = _opened(context, site)
        page.evaluate("window.stays = true")
        _says(page, "stairs")
        ran = fallow("seen", "--athlete", "runa", "--all", "--by", "Somebody", home=site.home)
        assert ran.status == 0, ran.err
        _says(page, "by Somebody")
        assert page.evaluate("window.stays"), "the page was not loaded again"
        _tap(page, "Hold")
        ran = fallow("hold", "runa", "--days", "1", "--by", "Somebody", home=site.home)
        assert ran.status == 0, ran.err
        page.wait_for_function(
            "() => performance.getEntriesByType('resource').filter(e => e.name.endsWith('/')).length >= 2"
        )
        assert page.locator(f"{LINE} details[open]").count() == 1, "what a thumb has opened stays open"
        page.locator(f"{LINE} summary", has_text="Hold").tap()
        _says(page, "for 1 day by Somebody")
        assert seen.complaints == []
        fallow("release", "runa", "--why", "for the next test", home=site.home)


def test_without_a_connection_nothing_is_taken_for_sent(browser: Browser, site: Site) -> None:
    with _phone(browser) as context:
        page, _ = _opened(context, site)
        before = _holds(site)
        _tap(page, "Hold")
        context.set_offline(True)
        _tap(page, "2 days")
        page.get_by_text("No connection. Nothing was sent").wait_for()
        assert _holds(site) == before


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_coachs_pages_break_no_rule_of_accessibility_and_fit_a_phone(
    browser: Browser, site: Site, scheme: Any
) -> None:
    finding = told("findings", "runa", home=site.home)[0]["id"]
    axe = resources.files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8")
    with _phone(browser, color_scheme=scheme, bypass_csp=True) as context:
        page, _ = _opened(context, site)
        for way in ("/", "/a/runa", f"/f/{finding}", "/rules", "/calendar?of=runa"):
            page.goto(site.url + way)
            page.evaluate(axe)
            for fold in ("", "Hold", "Release", "Note"):
                shown = (
                    page.locator(f"{LINE} summary", has_text=fold) if fold else page.locator("main details:not([name])")
                )
                if fold and not shown.count():
                    continue
                shown.evaluate_all(
                    "all => all.forEach(each => { (each.parentElement.closest('details') || each).open = true })"
                )
                assert (page.evaluate("document.documentElement.scrollWidth"), page.evaluate(REACHING_OUT)) == (
                    WIDTH,
                    [],
                )
                broken = page.evaluate(
                    "tags => axe.run({runOnly: tags, resultTypes: ['violations'], preload: false})", STANDARDS
                )["violations"]
                assert {each["id"]: [node["html"][:120] for node in each["nodes"][:3]] for each in broken} == {}, way


def test_every_answer_is_large_enough_for_a_thumb(browser: Browser, site: Site) -> None:
    with _phone(browser) as context:
        page, _ = _opened(context, site)
        boxes = page.evaluate(
            """() => {
                for (const each of document.querySelectorAll('details')) {
                    each.removeAttribute('name');
                    each.open = true;
                }
                return [...document.querySelectorAll('.act')].map(each => each.getBoundingClientRect().toJSON());
            }"""
        )  # at once, since a line may be drawn anew
        assert len(boxes) >= 12
        assert min(box["height"] for box in boxes) >= 44
        assert min(box["width"] for box in boxes) >= 44


def test_a_calendar_is_subscribed_to_from_the_page_and_read_by_another_library(browser: Browser, site: Site) -> None:
    with _phone(browser, java_script_enabled=False) as context:
        page, _ = _opened(context, site)
        page.goto(f"{site.url}/a/runa")
        page.get_by_role("link", name="Their plan in your calendar").tap()
        page.get_by_role("button", name="Make a").tap()
        link = page.get_by_label("The link, shown this once").input_value()
        assert page.get_by_role("link", name="Subscribe").get_attribute("href") == link.replace("http:", "webcal:")
        with urlopen(link, timeout=PATIENCE_SECONDS) as answer:
            events = IcsCalendarStream.calendar_from_ics(answer.read().decode()).events
        assert any(each.summary == "Days off" for each in events)
        page.reload()
        assert link not in page.content()


def test_the_board_is_drawn_anew_beside_the_pages(browser: Browser, site: Site) -> None:
    fallow("board", home=site.home)
    with _phone(browser) as context:
        page, _ = _opened(context, site)
        _tap(page, "Hold")
        page.locator(f"{LINE} input[name=why_more]:visible").fill("for the file")
        _tap(page, "1 day")
        until(lambda: "for the file" in (site.home / "board/runa.html").read_text("utf-8"), "board.html has followed")
