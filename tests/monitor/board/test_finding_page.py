from __future__ import annotations

import shutil
import webbrowser
from pathlib import Path

import pytest

from monitor.home import Home
from monitor.store import findings
from tests.boards import NOW, opened
from tests.homes import fallow


@pytest.fixture
def own(board_home: Home, tmp_path: Path) -> Home:
    return Home(Path(shutil.copytree(board_home.path, tmp_path / "own")))


def _id(home: Home, rule: str) -> str:
    _, store = opened(home)
    with store.reading() as con:
        return next(each.id for each in findings.standing(con) if each.rule == rule)


def test_explain_opens_the_session_of_a_finding(own: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    opened_pages: list[str] = []
    monkeypatch.setattr(webbrowser, "open", lambda url: opened_pages.append(url) or True)
    finding = _id(own, "no_speed_work")
    ran = fallow("explain", finding[:6], "--open", home=own.path)
    page = own.path / "board" / f"finding.{finding}.html"
    assert (ran.status, ran.out.strip(), ran.err) == (0, str(page), "")
    assert opened_pages == [page.as_uri()]
    text = page.read_text("utf-8")
    assert "Heart rate over the session" in text
    assert "fast running" in text
    assert '<details class="session" open>' in text, "its picture is what the page is for"
    assert page.stat().st_mode & 0o777 == 0o600


def test_the_page_of_a_morning_shows_the_mornings(own: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(webbrowser, "open", lambda url: False)
    ran = fallow("explain", _id(own, "resting_hr_up"), "--open", "--json", home=own.path)
    text = Path(ran.json()["page"]).read_text("utf-8")
    assert "Resting heart rate, mornings" in text
    assert "Heart rate over the session" not in text
    assert "no browser could be opened; open the file yourself" in ran.err


def test_the_page_of_a_finding_of_an_earlier_race_shows_that_plan(own: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(webbrowser, "open", lambda url: True)
    fallow("explain", _id(own, "rest_hours"), "--open", home=own.path)
    page = own.path / "board" / f"finding.{_id(own, 'rest_hours')}.html"
    assert "after 10k on Sun 10 May" in page.read_text("utf-8")


def test_the_page_goes_when_the_finding_does(own: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(webbrowser, "open", lambda url: True)
    finding = _id(own, "pain")
    fallow("explain", finding, "--open", home=own.path)
    page = own.path / "board" / f"finding.{finding}.html"
    fallow("board", "--as-of", NOW.isoformat(), home=own.path)
    assert page.exists()
    _, store = opened(own)
    with store.writing() as con:
        con.execute("UPDATE finding SET withdrawn_at = now()::TIMESTAMP WHERE id = ?", [finding])
    fallow("board", "--as-of", NOW.isoformat(), home=own.path)
    assert not page.exists()


def test_a_mark_is_on_the_board_at_once(own: Home) -> None:
    fallow("seen", _id(own, "pain"), "--by", "Ida", "--note", "rests until <Friday>", home=own.path)
    text = (own.path / "board" / "runa.html").read_text("utf-8")
    assert "Seen by Ida, " in text
    assert "rests until &lt;Friday&gt;" in text


def test_board_prints_where_it_is(own: Home) -> None:
    own.board.unlink()
    ran = fallow("board", "--as-of", NOW.isoformat(), "--json", home=own.path)
    assert ran.json() == {"path": str(own.board)}
    assert own.board.exists()
