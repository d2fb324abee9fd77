"""The calendar that people subscribe to: behind a link that opens nothing else and can be made void."""

from __future__ import annotations

import re
from typing import Any

import pytest
from ical.calendar_stream import IcsCalendarStream

from monitor import logs
from monitor.pages.links import PageOwner, session_of
from tests.homes import fallow
from tests.monitor.pages.scene import IDA, NOW, ODD, RUNA, Pages, hidden, sent, words_of

PHONE = "198.51.100.23"


def made(browser: Any, of: str = "", **more: str) -> str:
    """The path of a new link, as the page shows it once."""
    page = browser.get("/calendar", params={"of": of} if of else {})
    answer = sent(browser, {"token": hidden(page, "token"), "of": hidden(page, "of"), **more}, to="/calendar")
    assert answer.status_code == 200
    found = re.search(r'readonly value="https?://[^/"]+(/feed/[^"]+)"', answer.text)
    assert found, words_of(answer)
    return found[1]


def fetched(pages: Pages, path: str, **headers: str) -> Any:
    """As a calendar program asks: no cookie, nothing else."""
    return pages.browser(PHONE).get(path, headers=headers)


@pytest.mark.parametrize(("reader", "of"), [(RUNA, ""), (IDA, "runa")])
def test_another_library_reads_the_feed_and_a_moved_stage_moves(pages: Pages, reader: PageOwner, of: str) -> None:
    path = made(pages.opened(reader), of)
    answer = fetched(pages, path)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    before = {each.summary: each for each in IcsCalendarStream.calendar_from_ics(answer.text).events}
    assert fallow("hold", "runa", "--days", "3", "--as-of", NOW.isoformat(), home=pages.path).status == 0
    after = {str(each.uid): each for each in IcsCalendarStream.calendar_from_ics(fetched(pages, path).text).events}
    stage = before["Test runs, at the earliest"]
    moved = after[str(stage.uid)]
    assert moved.dtstart > stage.dtstart
    assert moved.sequence == stage.sequence + 1


def test_who_asks_again_for_what_has_not_changed_is_told_so(pages: Pages) -> None:
    path = made(pages.opened(RUNA))
    first = fetched(pages, path)
    again = fetched(pages, path, **{"if-none-match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert "no-cache" in first.headers["cache-control"]
    assert "runa" not in first.headers["content-disposition"].lower()


def test_nothing_of_the_body_is_in_it_unless_it_was_asked_for(pages: Pages) -> None:
    browser = pages.opened(RUNA)
    plain = fetched(pages, made(browser)).text.replace("\r\n ", "")
    whole = fetched(pages, made(browser, body="yes")).text.replace("\r\n ", "")
    assert not re.search("stairs|pain|heart", plain, re.IGNORECASE)
    assert "tairs not managed unaided" in whole


def test_a_new_link_makes_the_one_before_void_and_a_void_one_tells_as_little_as_a_wrong_one(pages: Pages) -> None:
    browser = pages.opened(RUNA)
    first, second = made(browser), made(browser)
    assert fetched(pages, second).status_code == 200
    page = browser.get("/calendar")
    form = {"token": hidden(page, "token"), "of": "runa"}
    assert sent(browser, form, to="/calendar/void").status_code == 200
    answers = [fetched(pages, path) for path in (first, second, f"/feed/{'x' * 43}.ics", "/feed/x.ics", "/feed/..ics")]
    assert {answer.status_code for answer in answers} == {404}
    assert len({answer.content for answer in answers}) == 1
    assert pages.pauses == sorted(pages.pauses)
    assert len(pages.pauses) == len(answers)


def test_whoever_guesses_is_not_told_when_a_guess_is_right(pages: Pages) -> None:
    path = made(pages.opened(RUNA))
    for number in range(10):
        fetched(pages, f"/feed/{number}.ics")
    assert fetched(pages, path).status_code == 404
    pages.clock[0] += 601
    assert fetched(pages, path).status_code == 200


def test_a_feed_opens_its_calendar_and_nothing_else(pages: Pages) -> None:
    path = made(pages.opened(RUNA))
    token = path.removeprefix("/feed/").removesuffix(".ics")
    assert pages.browser().get(f"/k/{token}").status_code == 404
    for cookie in (token, session_of(token)):
        assert pages.browser().get("/", headers={"cookie": f"fallow={cookie}"}).status_code == 403
    personal = pages.links.make(ODD, NOW)
    assert fetched(pages, f"/feed/{personal}.ics").status_code == 404


@pytest.mark.parametrize("how", ["revoked", "made anew"])
def test_a_feed_ends_with_the_personal_link_by_which_it_was_made(pages: Pages, how: str) -> None:
    path = made(pages.opened(IDA), "runa")
    others = made(pages.opened(RUNA))
    if how == "revoked":
        pages.links.revoke(IDA)
    else:
        pages.links.make(IDA, NOW)
    assert fetched(pages, path).status_code == 404
    assert fetched(pages, others).status_code == 200


def test_a_feed_ends_when_the_coach_is_no_contact_of_the_athlete_any_more(pages: Pages) -> None:
    path = made(pages.opened(IDA), "runa")
    text = pages.home.roster.read_text("utf-8").replace('contacts = ["coach"]', "contacts = []", 1)
    pages.home.roster.write_text(text, "utf-8")
    assert fetched(pages, path).status_code == 404


@pytest.mark.parametrize(("reader", "of"), [(RUNA, "odd"), (IDA, "per"), (IDA, "nobody"), (IDA, "")])
def test_nobody_makes_a_feed_of_somebody_elses_plan(pages: Pages, reader: PageOwner, of: str) -> None:
    browser = pages.opened(reader)
    front = browser.get("/")
    assert browser.get("/calendar", params={"of": of}).status_code == 404
    for path in ("/calendar", "/calendar/void"):
        assert sent(browser, {"token": hidden(front, "token"), "of": of}, to=path).status_code == 404
    assert not any(name.startswith("feed:") for name in pages.links.all())


@pytest.mark.parametrize("path", ["/calendar", "/calendar/void"])
def test_a_feed_is_made_and_ended_by_pages_of_ours_alone(pages: Pages, path: str) -> None:
    browser = pages.opened(RUNA)
    form = {"token": hidden(browser.get("/calendar"), "token"), "of": "runa"}
    before = pages.links.all()
    assert sent(browser, {**form, "token": "x"}, to=path).status_code == 403
    assert sent(browser, form, "https://elsewhere.example", to=path).status_code == 403
    assert pages.browser().get("/calendar").status_code == 403
    assert pages.links.all() == before


def test_the_link_of_a_feed_is_kept_nowhere_and_shown_once(public: Pages) -> None:
    logs.open_log(public.home, path=public.home.pages_log)
    try:
        browser = public.opened(RUNA)
        path = made(browser)
        fetched(public, path)
        fetched(public, "/feed/wrong.ics")
    finally:
        logs.close_log()
    token = path.removeprefix("/feed/").removesuffix(".ics")
    again = browser.get("/calendar")
    assert token not in again.text
    assert "last used" in words_of(again)
    for file in public.path.rglob("*"):
        if file.is_file():
            assert token.encode() not in file.read_bytes(), file.name
    assert "page_wrong_link" in public.log


def test_the_list_of_links_counts_calendars(pages: Pages) -> None:
    made(pages.opened(RUNA))
    rows = fallow("link", "--json", home=pages.path).json()
    assert [(row["id"], row["calendars"]) for row in rows] == [("runa", 1)]
    assert "1 calendar" in " ".join(fallow("link", home=pages.path).out.split())
