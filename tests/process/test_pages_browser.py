"""The athlete's pages in a real Chromium at 360 px, beside a real daemon: link, check-in, upload, alerts."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from monitor.intake.reading import ReadJob, read_path
from monitor.values import IntakeOptions
from tests.process.conftest import STANDARDS, Seen, patient
from tests.process.daemons import ledger, run_file, told, until
from tests.process.pages import Site, served
from tests.process.test_board_browser import REACHING_OUT

WIDTH = 360
RECORDINGS = Path(os.environ.get("FALLOW_RECORDINGS", Path(__file__).parents[2].parent / "shared/recordings"))
WAYS = ("/", "/checkin", "/received")


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    with served(tmp_path_factory.mktemp("pages")) as running:
        yield running


def _phone(browser: Browser, **options: Any) -> BrowserContext:
    return patient(browser.new_context(viewport={"width": WIDTH, "height": 740}, has_touch=True, **options))


def _watched(page: Page) -> Seen:
    seen = Seen()
    page.on("console", lambda said: seen.complaints.append(said.text))
    page.on("pageerror", lambda error: seen.complaints.append(str(error)))
    page.on("request", lambda asked: seen.requests.append(asked.url))
    return seen


def _opened(context: BrowserContext, site: Site, person: str = "runa") -> Page:
    page = context.new_page()
    page.goto(site.link(person))
    page.wait_for_url(f"{site.url}/")
    return page


def _answer(page: Page, **picks: str) -> None:
    for name, value in picks.items():
        page.locator(f'input[name="{name}"][value="{value}"]').check(force=True)


WELL = {"stairs_unaided": "yes", "squat_unaided": "yes", "soreness": "2", "pain": "0", "energy": "7", "mood": "8"}


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
def test_from_an_alert_to_the_check_in_to_another_today_and_from_an_upload_to_an_alert(
    browser: Browser, tmp_path: Path, scripts: bool
) -> None:
    with served(tmp_path) as site, _phone(browser, java_script_enabled=scripts) as context:
        alert = site.told("own", "stairs")
        page = _opened(context, site)
        seen = _watched(page)
        assert "Walking only until a check-in says it is better" in page.inner_text("main")
        page.goto(re.search(rf"Details: ({site.url}/f/[0-9a-f]+)", alert)[1])
        assert "Stairs not managed unaided" in page.inner_text("main")
        page.get_by_role("navigation").get_by_role("link", name="Check in").click()
        _answer(page, **WELL)
        page.get_by_role("button", name="Send").click()
        page.wait_for_url(f"{site.url}/?noted")
        said = page.inner_text("main")
        assert "Walking only" not in said
        assert "60 min" in said
        assert "Noted today: stairs yes, squat yes" in said
        until(lambda: told("plan", "runa", home=site.home)["gates"][0]["until"], "the gate is open in the store too")
        assert told("today", "runa", home=site.home)["answer"].lower() in page.inner_text("main").lower()
        page.get_by_role("navigation").get_by_role("link", name="Files").click()
        run = {"name": "Evening Run.fit", "mimeType": "application/octet-stream", "buffer": run_file(1)}
        page.set_input_files('input[type="file"]', run)
        page.get_by_role("button", name="Send").click()
        page.wait_for_url(f"{site.url}/received")
        page.get_by_text("read: 1 session").wait_for()
        assert (site.folder / "received/Evening_Run.fit").exists()
        alert = site.told("own", "STOP")
        page.goto(re.search(rf"Details: ({site.url}/f/[0-9a-f]+)", alert)[1])
        assert "A run of 25 min in a stage without running" in page.inner_text("main")
        assert len(site.checkins) == 1
        assert [url for url in seen.requests if not url.startswith(site.url)] == []
        assert seen.complaints == []


def test_a_real_recording_becomes_a_finding_and_an_alert(browser: Browser, tmp_path: Path) -> None:
    found = sorted((RECORDINGS / "labelled").glob("*.fit.gz")) if RECORDINGS.is_dir() else []
    runs = ((path, start) for path in found if (start := _started(path)) is not None)
    recording, start = next(runs, (None, None))
    if recording is None or start is None:
        pytest.skip(f"no recordings in {RECORDINGS}; set FALLOW_RECORDINGS to have this test")
    now = start + timedelta(hours=6)
    with served(tmp_path, ("--as-of", now.isoformat()), now) as site, _phone(browser) as context:
        page = _opened(context, site)
        page.goto(f"{site.url}/received")
        page.set_input_files('input[type="file"]', recording)
        page.get_by_role("button", name="Send").click()
        page.get_by_text("read: 1 session").wait_for()
        alert = site.told("own", "day 9")
        page.goto(re.search(rf"Details: ({site.url}/f/[0-9a-f]+)", alert)[1])
        assert page.locator("article.finding").count() >= 1


def _started(path: Path) -> datetime | None:
    """When a run of half an hour or more began; None for any other file."""
    facts = read_path(ReadJob(path.parent, path.name, IntakeOptions("UTC"))).facts
    runs = [one for one in facts.recordings if one.sport == "running" and one.timer_s > 1800] if facts else []
    return runs[0].start if runs else None


def test_the_link_is_gone_from_the_address_bar_the_history_and_the_referrer(browser: Browser, site: Site) -> None:
    with _phone(browser) as context:
        page = context.new_page()
        seen = _watched(page)
        referrers: list[str] = []
        page.on("request", lambda asked: referrers.append(asked.headers.get("referer", "")))
        link = site.link()
        page.goto(link)
        page.wait_for_url(f"{site.url}/")
        assert "/k/" not in page.evaluate("location.href + document.referrer + document.title")
        assert not any("/k/" in one for one in referrers)
        (cookie,) = context.cookies()
        assert (cookie["httpOnly"], cookie["sameSite"], cookie["name"]) == (True, "Strict", "fallow")
        assert cookie["value"] not in link
        assert page.evaluate("document.cookie") == ""
        assert seen.complaints == []
        page.go_back()
        page.wait_for_url("about:blank")  # what was before it, and not the link


def test_an_alert_opens_from_a_page_of_another_site(browser: Browser, site: Site) -> None:
    """As from mail in a browser, which brings no strict cookie along."""
    site.told("own", "stairs")
    finding = told("findings", "runa", home=site.home)[0]["id"]
    with _phone(browser) as context:
        page = _opened(context, site)
        page.goto(f"data:text/html,<a href='{site.url}/f/{finding}'>details</a>")
        page.get_by_role("link", name="details").click()
        page.locator("article.finding").first.wait_for()
        assert page.url == f"{site.url}/f/{finding}"


def test_another_site_can_neither_frame_a_page_nor_send_a_form(browser: Browser, site: Site) -> None:
    with _phone(browser) as context:
        page = _opened(context, site)
        before = len(site.checkins)
        page.goto(f"data:text/html,<iframe src='{site.url}/'></iframe>")
        page.wait_for_load_state()
        assert all("Runa" not in (frame.text_content("body") or "") for frame in page.frames)
        form = (
            f"<form method=post action='{site.url}/checkin'><input name=pain value=9><input name=once value={'a' * 20}>"
        )
        page.goto(f"data:text/html,{form}<button>win</button></form>")
        page.get_by_role("button").click()
        page.wait_for_url(f"{site.url}/checkin")
        assert "Not open on this device" in page.inner_text("main")
        assert len(site.checkins) == before


def test_answers_survive_a_dead_connection_and_count_once(browser: Browser, site: Site) -> None:
    with _phone(browser) as context:
        page = _opened(context, site)
        before = len(site.checkins)
        page.goto(f"{site.url}/checkin")
        _answer(page, **{**WELL, "energy": "3"})
        page.locator('textarea[name="note"]').fill("on the train")
        context.set_offline(True)
        page.get_by_role("button", name="Send").click()
        page.get_by_text("is kept on this phone").wait_for()
        assert "on the train" in page.evaluate("localStorage.getItem('fallow.unsent')")
        assert len(site.checkins) == before
        arrived: list[int] = []

        def answer_is_lost(route: Any) -> None:
            arrived.append(route.fetch(max_redirects=0).status)
            route.abort()

        page.route("**/checkin", answer_is_lost, times=1)
        with page.expect_event("requestfailed", lambda asked: asked.url == f"{site.url}/checkin"):
            context.set_offline(False)
        assert arrived == [303], "it has arrived, but the phone does not know"
        page.reload()
        page.wait_for_url(f"{site.url}/?noted")
        assert page.evaluate("localStorage.getItem('fallow.unsent')") is None
        sent = [one for one in site.checkins if one.get("note") == "on the train"]
        assert len(sent) == 1
        assert sent[0]["energy"] == 3


def test_answers_kept_by_one_page_are_sent_by_whichever_opens_next(browser: Browser, site: Site) -> None:
    with _phone(browser) as context:
        page = _opened(context, site)
        page.goto(f"{site.url}/checkin")
        _answer(page, soreness="4")
        page.locator('textarea[name="note"]').fill("in the woods")
        context.set_offline(True)
        page.get_by_role("button", name="Send").click()
        page.get_by_text("is kept on this phone").wait_for()
        page.close()
        context.set_offline(False)
        other = context.new_page()
        other.goto(f"{site.url}/")
        until(lambda: any(one.get("note") == "in the woods" for one in site.checkins), "it is sent")
        other.wait_for_function("localStorage.getItem('fallow.unsent') === null")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_pages_break_no_rule_of_accessibility_and_fit_a_phone(browser: Browser, site: Site, scheme: Any) -> None:
    site.told("own", "stairs")
    finding = told("findings", "runa", home=site.home)[0]["id"]
    axe = resources.files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8")
    with _phone(browser, color_scheme=scheme, bypass_csp=True) as context:
        page = _opened(context, site)
        for way in (*WAYS, f"/f/{finding}", "/nothing"):
            page.goto(site.url + way)
            page.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true })")
            assert (page.evaluate("document.documentElement.scrollWidth"), page.evaluate(REACHING_OUT)) == (WIDTH, [])
            page.evaluate(axe)
            broken = page.evaluate(
                "tags => axe.run({runOnly: tags, resultTypes: ['violations'], preload: false})", STANDARDS
            )["violations"]
            assert {each["id"]: [node["html"][:120] for node in each["nodes"][:3]] for each in broken} == {}, way


def test_every_control_of_the_check_in_is_large_enough_for_a_thumb(browser: Browser, site: Site) -> None:
    with _phone(browser) as context:
        page = _opened(context, site)
        page.goto(f"{site.url}/checkin")
        boxes = page.eval_on_selector_all(
            ".pick, .checkin button, .field input, nav a",
            "all => all.map(each => each.getBoundingClientRect().toJSON())",
        )
        assert len(boxes) > 60
        assert min(box["height"] for box in boxes) >= 44
        assert min(box["width"] for box in boxes) >= 28


def test_the_check_in_can_be_made_with_the_keyboard_alone(browser: Browser, site: Site) -> None:
    with _phone(browser) as context:
        page = _opened(context, site)
        page.goto(f"{site.url}/checkin")
        page.locator('input[name="stairs_unaided"][value="yes"]').focus()
        page.keyboard.press("Space")
        page.keyboard.press("Tab")
        page.keyboard.press("ArrowRight")
        assert page.locator('input[name="squat_unaided"][value="no"]').is_checked()
        outline = "getComputedStyle(document.activeElement.nextElementSibling).outlineStyle"
        assert page.evaluate(outline) == "solid"
        page.locator('textarea[name="note"]').fill("by keyboard")
        page.get_by_role("button", name="Send").focus()
        page.keyboard.press("Enter")
        page.wait_for_url(f"{site.url}/?noted")


def test_it_can_be_put_on_the_home_screen(browser: Browser, site: Site) -> None:
    with _phone(browser) as context:
        page = _opened(context, site)
        session = context.new_cdp_session(page)
        told_of = session.send("Page.getAppManifest")
        assert told_of["errors"] == []
        assert '"short_name":"fallow"' in told_of["data"]
        for name in ("icon-192.png", "icon-512.png", "icon.svg"):
            assert page.evaluate("name => fetch('/' + name).then(answer => answer.status)", name) == 200
        assert ledger(site.home)
