"""The coach's word from a page: what the commands write, for one's own athletes only, and taken back in time."""

from __future__ import annotations

import asyncio
import re
from collections import Counter
from collections.abc import AsyncIterator
from typing import Any

import pytest
from starlette.requests import Request

from monitor.pages.guard import Visit
from monitor.pages.links import PageOwner
from monitor.store import findings
from monitor.store.database import Store
from rules.facts import Hold
from rules.limits import default_limits
from tests.homes import fallow
from tests.monitor.pages.scene import HERE, IDA, NOW, ODD, RUNA, Pages, hidden, sent, words_of

ANSWERS = ("/answer/seen", "/answer/hold", "/answer/release", "/answer/undo")


def marks(pages: Pages) -> dict[str, list[dict[str, Any]]]:
    with Store(pages.home.store).reading() as con:
        return findings.marks(con)


def holds(pages: Pages, athlete: str = "runa") -> list[Hold]:
    with Store(pages.home.store).reading() as con:
        return findings.holds(con, [athlete])[athlete]


def word(browser: Any, athlete: str = "runa", **more: str) -> dict[str, str]:
    """What a form of the board sends for an athlete."""
    board = browser.get("/")
    line = line_of(board.text, athlete)
    ids = re.search(r'name="findings" value="([^"]*)"', line)
    once = re.search(r'name="once" value="([^"]*)"', line)
    assert once
    found = {"findings": ids[1]} if ids else {}
    return {"token": hidden(board, "token"), "athlete": athlete, "once": once[1], "back": "/", **found, **more}


def line_of(page: str, athlete: str) -> str:
    found = re.search(rf'<li id="a-{athlete}".*?(?=<li id="a-|</ol>)', page, re.DOTALL)
    assert found, page[-3000:]
    return found[0]


def given(browser: Any, kind: str, **more: str) -> Any:
    return sent(browser, word(browser, **more), to=f"/answer/{kind}")


# What is written


def test_the_board_has_a_line_for_each_of_ones_own_who_needs_a_word_first(pages: Pages) -> None:
    page = pages.opened(IDA).get("/")
    assert page.status_code == 200
    assert re.findall(r'<li id="a-(\w+)"', page.text) == ["odd", "runa"]
    assert "A run of 25 min" in line_of(page.text, "runa")
    assert "need a word now" in words_of(page)


def test_seen_marks_all_that_the_line_names_as_the_command_does(pages: Pages) -> None:
    browser = pages.opened(IDA)
    ids = {each.id for each in pages.standing()}
    answer = given(browser, "seen", note="talked", note_more="rests until Friday")
    assert (answer.status_code, answer.headers["location"]) == (303, "/#a-runa")
    told = marks(pages)
    assert set(told) == ids
    assert {(one["by"], one["note"], one["at"]) for each in told.values() for one in each} == {
        ("Coach Ida", "talked; rests until Friday", NOW)
    }
    shown = fallow("findings", "runa", "--json", home=pages.path).json()
    assert all(each["seen"] for each in shown)
    line = line_of(browser.get("/").text, "runa")
    assert "talked; rests until Friday" in line
    assert "Undo" in line
    assert "/answer/seen" not in line, "there is nothing left to be seen"


def test_a_hold_for_some_days_and_a_release_with_its_reason_are_kept_as_the_commands_keep_them(pages: Pages) -> None:
    browser = pages.opened(IDA)
    assert given(browser, "hold", days="3", why_more="calf tight").status_code == 303
    assert given(browser, "hold", days="").status_code == 303
    assert given(browser, "release", why="seen by a physiotherapist").status_code == 303
    assert [(each.kind, each.on, each.days, each.why, each.by) for each in holds(pages)] == [
        ("hold", NOW.date(), 3, "calf tight", "Coach Ida"),
        ("hold", NOW.date(), None, "", "Coach Ida"),
        ("release", NOW.date(), None, "seen by a physiotherapist", "Coach Ida"),
    ]
    assert "Released on Tue 13 Oct by Coach Ida: seen by a physiotherapist" in line_of(browser.get("/").text, "runa")
    assert [each.athlete for each in (*pages.standing("odd"),)] == ["odd"] * len(pages.standing("odd"))
    assert holds(pages, "odd") == []


@pytest.mark.parametrize(
    ("kind", "more", "status"),
    [
        ("release", {"why": ""}, 409),
        ("release", {"why": "   ", "why_more": "\n"}, 409),
        ("hold", {"days": "0"}, 400),
        ("hold", {"days": "367"}, 400),
        ("hold", {"days": "-1"}, 400),
        ("hold", {"days": "three"}, 400),
        ("seen", {"findings": ""}, 400),
        ("seen", {"findings": "x'; drop table mark; --"}, 400),
        ("seen", {"findings": "0123456789"}, 409),
        ("undo", {"at": "yesterday"}, 400),
        ("undo", {"at": "2026-10-13T12:00:00"}, 400),
        ("undo", {"at": "2026-10-13T12:00:00+02:00"}, 409),
    ],
)
def test_what_is_no_answer_is_refused_and_writes_nothing(
    pages: Pages, kind: str, more: dict[str, str], status: int
) -> None:
    browser = pages.opened(IDA)
    journal = pages.home.journal.read_bytes()
    assert given(browser, kind, **more).status_code == status
    assert (marks(pages), holds(pages), pages.home.journal.read_bytes()) == ({}, [], journal)


def test_the_longest_hold_and_the_shortest_are_taken(pages: Pages) -> None:
    browser = pages.opened(IDA)
    for days in ("1", "366"):
        assert given(browser, "hold", days=days).status_code == 303
    assert [each.days for each in holds(pages)] == [1, 366]


def test_two_taps_on_one_button_are_one_answer_and_a_refused_form_may_be_sent_again(pages: Pages) -> None:
    browser = pages.opened(IDA)
    form = word(browser, days="2")
    assert [sent(browser, form, to="/answer/hold").status_code for _ in range(2)] == [303, 303]
    assert len(holds(pages)) == 1
    other = word(browser, why="")
    assert sent(browser, other, to="/answer/release").status_code == 409
    assert sent(browser, {**other, "why": "talked it over"}, to="/answer/release").status_code == 303


def test_an_answer_is_taken_back_from_its_line_and_not_by_another_coach(pages: Pages) -> None:
    text = pages.home.roster.read_text("utf-8").replace('contacts = ["coach"]', 'contacts = ["coach", "per"]', 1)
    pages.home.roster.write_text(
        text + '\n[[contact]]\nid = "per"\nname = "Coach Per"\nurls = ["json://127.0.0.1:9/per"]\n', "utf-8"
    )
    pages = Pages(pages.path)
    ida, per = pages.opened(IDA), pages.opened(PageOwner("coach", "per"))
    given(ida, "hold", days="2")
    undo = re.search(r'name="at" value="([^"]*)"', line_of(ida.get("/").text, "runa"))
    assert undo
    assert 'name="at"' not in line_of(per.get("/").text, "runa")
    assert given(per, "undo", at=undo[1]).status_code == 409
    assert len(holds(pages)) == 1
    assert given(ida, "undo", at=undo[1]).status_code == 303
    assert holds(pages) == []
    assert "Held" not in line_of(ida.get("/").text, "runa")


def test_a_script_gets_the_line_alone_and_no_page_of_another_athlete(pages: Pages) -> None:
    browser = pages.opened(IDA)
    form = word(browser, days="2")
    answer = browser.post("/answer/hold", data=form, headers={"origin": HERE, "x-part": "line"})
    assert answer.status_code == 200
    assert answer.text.count("<li id=") == 1
    assert "<title>" not in answer.text
    assert "Odd" not in answer.text
    assert "for 2 days by Coach Ida" in answer.text


def test_where_it_goes_back_to_is_a_page_of_ours(pages: Pages) -> None:
    browser = pages.opened(IDA)
    finding = pages.standing()[0].id
    for back, to in (
        ("/", "/#a-runa"),
        ("/a/runa", "/a/runa#a-runa"),
        (f"/f/{finding}", f"/f/{finding}#a-runa"),
        ("https://elsewhere.example/", "/#a-runa"),
        ("//elsewhere.example", "/#a-runa"),
        ("/\\elsewhere.example", "/#a-runa"),
        ("/a/x\r\nset-cookie: a=b", "/#a-runa"),
    ):
        assert given(browser, "hold", days="1", back=back).headers["location"] == to


def test_an_athletes_page_and_a_finding_have_the_evidence_and_the_same_answers(pages: Pages) -> None:
    browser = pages.opened(IDA)
    finding = next(each for each in pages.standing() if each.rule == "no_running")
    for path in ("/a/runa", f"/f/{finding.id}"):
        page = browser.get(path)
        assert page.status_code == 200
        assert "A run of 25 min" in page.text
        for kind in ("seen", "hold", "release"):
            assert f'action="/answer/{kind}"' in page.text
    assert browser.get("/rules").status_code == 200


# Whose word it is


def test_no_athlete_writes_a_coachs_word(pages: Pages) -> None:
    coach, athlete = pages.opened(IDA), pages.opened(RUNA)
    form = word(coach, days="1", why="fine", at=NOW.isoformat())
    own = {**form, "token": hidden(athlete.get("/checkin"), "token")}
    for path in ANSWERS:
        assert sent(athlete, own, to=path).status_code == 404
    assert (marks(pages), holds(pages)) == ({}, [])
    for path in ("/a/runa", "/live"):
        assert athlete.get(path).status_code == 404


def test_a_coach_answers_and_looks_at_nobody_elses_athletes(pages: Pages) -> None:
    browser = pages.opened(IDA)
    theirs = pages.standing("per")[0].id
    for path, more in (
        ("/answer/seen", {"findings": theirs}),
        ("/answer/hold", {"days": "1"}),
        ("/answer/release", {"why": "fine"}),
        ("/answer/undo", {"at": NOW.isoformat()}),
    ):
        never = sent(browser, {**word(browser), "athlete": "nobody", **more}, to=path)
        answer = sent(browser, {**word(browser), "athlete": "per", **more}, to=path)
        assert (answer.status_code, answer.content) == (404, never.content)
    assert given(browser, "seen", findings=theirs).status_code == 409, "nor by naming one of one's own beside it"
    assert given(browser, "seen", findings=f"{pages.standing()[0].id},{theirs}").status_code == 409
    assert (marks(pages), holds(pages, "per")) == ({}, [])
    assert browser.get("/a/per").status_code == 404
    assert browser.get(f"/f/{theirs}").status_code == 404


@pytest.mark.parametrize("path", ANSWERS)
@pytest.mark.parametrize("attack", ["no token", "another's token", "another origin", "no origin", "a void link"])
def test_a_word_that_no_page_of_the_coach_made_is_not_taken(pages: Pages, path: str, attack: str) -> None:
    browser = pages.opened(IDA)
    form = word(browser, days="1", why="fine", at=NOW.isoformat())
    origin: str | None = None
    if attack == "no token":
        form.pop("token")
    elif attack == "another's token":
        form["token"] = hidden(pages.opened(ODD).get("/checkin"), "token")
    elif attack == "a void link":
        pages.links.revoke(IDA)
    else:
        origin = "https://elsewhere.example" if attack == "another origin" else ""
    assert sent(browser, form, origin, to=path).status_code == 403
    assert (marks(pages), holds(pages)) == ({}, [])


@pytest.mark.parametrize("path", ["/", "/a/runa", "/live", "/rules"])
def test_a_void_link_of_the_coach_opens_nothing_more(pages: Pages, path: str) -> None:
    browser = pages.opened(IDA)
    pages.links.revoke(IDA)
    answer = browser.get(path)
    assert answer.status_code == 403
    assert "Runa" not in answer.text


def test_who_is_no_contact_any_more_loses_the_athlete_at_once(pages: Pages) -> None:
    browser = pages.opened(IDA)
    form = word(browser, days="1")
    text = pages.home.roster.read_text("utf-8").replace('contacts = ["coach"]', "contacts = []", 1)
    pages.home.roster.write_text(text, "utf-8")
    assert browser.get("/a/runa").status_code == 404
    assert sent(browser, form, to="/answer/hold").status_code == 404
    assert "Runa" not in browser.get("/").text


def test_what_people_wrote_is_shown_and_never_run(pages: Pages) -> None:
    browser = pages.opened(IDA)
    given(browser, "seen", note_more="<script>alert(1)</script>\u202e\x07")
    for path in ("/", "/a/runa", f"/f/{pages.standing()[0].id}"):
        page = browser.get(path).text
        assert "<script>alert" not in page
        assert "&lt;script&gt;alert(1)" in page
        assert "\u202e" not in page


def test_notes_are_bounded(pages: Pages) -> None:
    browser = pages.opened(IDA)
    given(browser, "hold", days="1", why_more="x" * 5000)
    assert len(holds(pages)[0].why) == 500
    big = word(browser, days="1", why_more="x" * int(default_limits().pages.form_bytes))
    assert sent(browser, big, to="/answer/hold").status_code == 413


def test_the_log_tells_that_somebody_answered_and_nothing_of_whom(pages: Pages) -> None:
    from monitor import logs

    logs.open_log(pages.home, path=pages.home.pages_log)
    try:
        given(pages.opened(IDA), "hold", days="1", why_more="calf tight")
    finally:
        logs.close_log()
    assert "page_answer" in pages.log
    assert not re.search("runa|Runa|Ida|calf", pages.log)


# The open board


def stream(pages: Pages, coach: Any) -> tuple[AsyncIterator[str], Counter[str]]:
    """What `/live` says to the coach, without a network between."""
    request = Request({"type": "http", "method": "GET", "path": "/live", "headers": [], "app": pages.app})
    open_now: Counter[str] = Counter()
    return coach._changes(request, Visit(IDA, ""), open_now), open_now


def test_the_open_board_hears_of_each_change_and_no_more_once_the_link_is_void(
    pages: Pages, monkeypatch: pytest.MonkeyPatch
) -> None:
    from monitor.pages import coach

    monkeypatch.setattr(coach, "LOOK_SECONDS", 0.01)
    monkeypatch.setattr(coach, "APART_SECONDS", 0.0)
    browser = pages.opened(IDA)
    named = re.search(r'data-board="(\w+)"', browser.get("/").text)
    assert named

    async def listen() -> list[str]:
        said, open_now = stream(pages, coach)
        heard = [await anext(said), await anext(said)]
        assert open_now[IDA.id] == 1
        form = word(browser, days="1")
        answer = browser.post("/answer/hold", data=form, headers={"origin": HERE, "x-part": "line"})
        heard.append(await anext(said))
        assert answer.headers["x-board"] in heard[-1], (
            "who answered knows the board that it makes, and asks for no other"
        )
        pages.links.revoke(IDA)
        heard += [each async for each in said]
        assert open_now[IDA.id] == 0
        return heard

    first, then, last = asyncio.run(listen())
    assert first.startswith("retry:")
    assert then == f'event: changed\ndata: "{named[1]}"\n\n'
    assert last.startswith("event: changed")
    assert last != then


def test_boards_that_one_coach_has_open_are_bounded(pages: Pages) -> None:
    browser = pages.opened(IDA)
    pages.app.state.boards_open = Counter({IDA.id: 8})
    assert browser.get("/live").status_code == 204
