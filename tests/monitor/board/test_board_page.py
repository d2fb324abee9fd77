from __future__ import annotations

import base64
import hashlib
import re
import shutil
from datetime import timedelta
from html.parser import HTMLParser
from pathlib import Path

import pytest

from monitor.board import write
from monitor.home import Home
from monitor.judging import view
from monitor.store import findings
from rules import words as rule_words
from rules.day import audience_of, decide
from rules.history import in_order
from rules.limits import default_limits
from tests.boards import NOW, opened

VOID = {"meta", "link", "br", "img", "input", "hr", "rect", "path", "use", "circle"}


class Page(HTMLParser):
    """Tags, attributes, and the text outside of style and script."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.inside: dict[str, str] = {"style": "", "script": ""}
        self.text = ""
        self._in = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._in = tag if tag in self.inside else self._in

    def handle_endtag(self, tag: str) -> None:
        self._in = "" if tag == self._in else self._in

    def handle_data(self, data: str) -> None:
        if self._in:
            self.inside[self._in] += data
        else:
            self.text += data

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.tags if name == tag]


@pytest.fixture(scope="module")
def html(board_home: Home) -> str:
    return board_home.board.read_text("utf-8")


@pytest.fixture(scope="module")
def page(html: str) -> Page:
    return Page(html)


@pytest.fixture(scope="module")
def runas(board_home: Home) -> Page:
    return Page((board_home.path / "board" / "runa.html").read_text("utf-8"))


@pytest.fixture
def own(board_home: Home, tmp_path: Path) -> Home:
    return Home(Path(shutil.copytree(board_home.path, tmp_path / "own")))


def _written(home: Home) -> str:
    roster, store = opened(home)
    return write(home, roster, store, NOW, default_limits()).read_text("utf-8")


def test_the_policy_lets_nothing_load_and_names_style_and_script_by_their_hashes(page: Page) -> None:
    policy = next(each["content"] for each in page.all("meta") if each.get("http-equiv") == "Content-Security-Policy")
    assert policy is not None
    rules = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    assert rules["default-src"] == rules["base-uri"] == rules["form-action"] == "'none'"
    for kind in ("style", "script"):
        digest = base64.b64encode(hashlib.sha256(page.inside[kind].encode()).digest()).decode()
        assert rules[f"{kind}-src"] == f"'sha256-{digest}'"


@pytest.mark.parametrize("name", ["board.html", "board/runa.html", "board/odd.html", "board/runa.2026-05-10.html"])
def test_nothing_in_it_leads_out_of_the_folder(board_home: Home, name: str) -> None:
    html = (board_home.path / name).read_text("utf-8")
    page = Page(html)
    for tag, attributes in page.tags:
        assert "style" not in attributes, tag
        assert not [name for name in attributes if name.startswith("on")], f"{tag} {attributes}"
        target = attributes.get("href") or attributes.get("src") or ""
        assert re.fullmatch(r"(#[\w-]+|data:,|(board/|\.\./)?[\w.-]+\.html(#[\w-]+)?|)", target), target
    assert not page.all("img")
    assert not page.all("iframe")
    assert "http://" not in html
    assert "https://" not in html
    assert "@import" not in html
    assert "@font-face" not in html


def test_names_and_notes_are_shown_and_never_obeyed(page: Page, runas: Page, html: str) -> None:
    assert len(page.all("script")) == len(runas.all("script")) == 1
    assert "</h2><script>alert('name')</script>\\u202eevil\\x1b[31m" in page.text
    assert "<img src=x onerror=alert(1)> & note" in runas.text
    assert "(<b>calf</b>)" in runas.text
    assert "<i>numb</i>" in runas.text
    assert not re.search(r"[\x00-\x08\x0b-\x1f\x7f\u202a-\u202e]", html)


def test_it_says_who_needs_a_word_first_why_and_what_to_do(page: Page, html: str, board_home: Home) -> None:
    roster = Page(html[html.index("<ol") : html.index("</ol>")])
    rows = roster.all("li")
    assert [each["data-rank"] for each in rows] == ["1", "2", "3"]
    assert [each["id"] for each in rows] == ["a-odd", "a-runa", "a-nora"]
    told = " ".join(roster.text.split())
    assert "stop Thu 15 Oct, no running: A run of 25 min in a stage without running." in told
    assert "→ Ran in the days off." in told
    assert "day 13 of 22, cross-training" in told
    assert "marathon, Sun 4 Oct" in told
    assert "pain 0, stairs fine, Tue 13 Oct" in told
    assert re.search(r"next test runs from \w{3} \d+ Oct", told)
    assert "No race in the roster, so nothing is limited." in told
    assert len(roster.all("svg")) == 3, "the weeks of each"
    assert re.search(r"To Coach Ida: \d+ messages? waits?; the last error: [^.]+\.", page.text), page.text[:2000]
    reason = next(each["href"] for each in roster.all("a") if "#f-" in str(each["href"]))
    assert reason is not None
    beside = Page((board_home.path / str(reason).split("#", maxsplit=1)[0]).read_text("utf-8"))
    assert str(reason).partition("#")[2] in {attributes.get("id") for _, attributes in beside.tags}
    assert "../board.html#a-odd" in {each["href"] for each in beside.all("a")}, "and back"


def test_the_top_counts_who_needs_a_word_and_says_what_has_changed(page: Page, own: Home) -> None:
    told = " ".join(page.text.split())
    assert "1 needs a word now, 1 today, 1 not" in told or "2 need a word now, 0 today, 1 not" in told
    assert "Since Fri 16 Oct, 12:00: " in told
    _, store = opened(own)
    with store.writing() as con:
        (stop,) = [each for each in findings.standing(con, "odd") if each.rule == "no_running"]
        findings.mark(con, stop.id, "Ida", "talked", NOW - timedelta(hours=1))
    answered = " ".join(Page(_written(own)).text.split())
    assert "answered no running seen by Ida" in answered
    assert "stop, no running: A run of 25 min" not in answered, "what is answered is no longer new"


def test_what_today_allows_is_the_same_on_every_page(page: Page, board_home: Home) -> None:
    roster, store = opened(board_home)
    with store.reading() as con:
        made = view(con, roster, roster.athletes[0], NOW, default_limits())
    decision = decide(made.judgement, in_order(made.history, default_limits()), NOW, default_limits())
    assert rule_words.day.answer(decision) in page.text
    own = Page((board_home.path / "board" / "runa.html").read_text("utf-8"))
    assert rule_words.day.answer(decision) in own.text
    assert all(words in own.text for words in rule_words.day.now_words(decision, audience_of(decision))[1:])


def test_an_athletes_page_can_be_handed_on_without_anybody_elses_data(board_home: Home) -> None:
    for name in ("runa", "runa.2026-05-10"):
        text = (board_home.path / "board" / f"{name}.html").read_text("utf-8")
        assert "Runa Vik" in text
        for others in ("evil", "nora", "odd", "jog.fit"):
            assert others not in text, others


@pytest.mark.parametrize("name", ["board.html", "board/runa.html", "board/odd.html", "board/nora.html"])
def test_every_link_leads_to_a_place_on_the_page_or_a_file_beside_it(board_home: Home, name: str) -> None:
    path = board_home.path / name
    page = Page(path.read_text("utf-8"))
    places = {str(attributes["id"]) for _, attributes in page.tags if attributes.get("id")}
    assert len(places) == len([1 for _, attributes in page.tags if attributes.get("id")]), "no place twice"
    for _, attributes in page.tags:
        target = str(attributes.get("href") or "")
        if target.startswith("#"):
            assert target[1:] in places, target
        elif target and target != "data:,":
            assert (path.parent / target.split("#", maxsplit=1)[0]).is_file(), target


def test_a_session_is_shown_over_time_with_what_was_found_in_it(runas: Page) -> None:
    told = " ".join(runas.text.split())
    assert "Repeats: 6 x 1 min at 3:40/km, 18 % faster than your threshold pace." in told
    assert re.search(r"\d min( \d+ s)? above the ceiling of 121; \d min( \d+ s)? not believed\.", told)
    assert "6 stretches judged as fast running" in told
    assert "Heart rate not believed, hatched in the picture: locked" in told
    assert "Stretches that made the findings" in told
    assert "Stopped for 1 min in 1 pause." in told


def test_what_is_missing_is_said(runas: Page, board_home: Home) -> None:
    told = " ".join(Page((board_home.path / "board" / "odd.html").read_text("utf-8")).text.split())
    assert "No check-in since the race: stairs, squat and pain are not known." in told
    assert "Nothing at all on Mon 12 Oct, Tue 13 Oct, Wed 14 Oct, Fri 16 Oct, Sat 17 Oct." in told
    assert "Resting heart rate: 0 of the 14 mornings before the race that a baseline needs; not judged." in told
    assert "The file torn.fit could not be read" in runas.text


def test_the_files_are_their_owners_alone(board_home: Home) -> None:
    beside = board_home.path / "board"
    assert board_home.board.stat().st_mode & 0o777 == 0o600
    assert beside.stat().st_mode & 0o777 == 0o700
    assert [path.stat().st_mode & 0o777 for path in beside.iterdir()] == [0o600] * 4


def test_an_earlier_reverse_taper_has_a_page_of_its_own_that_is_made_once(own: Home) -> None:
    past = own.path / "board" / "runa.2026-05-10.html"
    told = " ".join(Page(past.read_text("utf-8")).text.split())
    assert "after 10k on Sun 10 May 2026" in told
    assert "A run of 40 min in a stage without running." in told
    before = past.stat().st_mtime_ns
    _written(own)
    assert past.stat().st_mtime_ns == before
    own.roster.write_text(own.roster.read_text().replace("hr_max = 190", "hr_max = 191"))
    _written(own)
    assert past.stat().st_mtime_ns > before, "another ceiling, another page"


def test_an_athlete_who_leaves_the_roster_leaves_no_page_behind(own: Home) -> None:
    text = own.roster.read_text("utf-8")
    cut = text[: text.index("[[athlete]]")] + text[text.index('[[athlete]]\nid = "nora"') :]
    own.roster.write_text(cut, "utf-8")
    assert "Runa Vik" not in _written(own)
    assert [path.name for path in (own.path / "board").iterdir()] == ["nora.html"]


def test_each_athlete_has_a_page_that_is_made_again_only_when_it_would_differ(own: Home) -> None:
    beside = own.path / "board"
    assert sorted(path.name for path in beside.iterdir()) == [
        "nora.html",
        "odd.html",
        "runa.2026-05-10.html",
        "runa.html",
    ]

    def times() -> dict[str, int]:
        return {path.name: path.stat().st_mtime_ns for path in beside.iterdir()}

    before = times()
    _written(own)
    assert times() == before, "nothing in them has changed"
    _, store = opened(own)
    with store.writing() as con:
        finding = findings.standing(con, "runa")[0]
        findings.mark(con, finding.id, "Ida", "talked", NOW)
    _written(own)
    assert {name for name, at in times().items() if at != before[name]} == {"runa.html"}
    roster, store = opened(own)
    write(own, roster, store, NOW + timedelta(days=1), default_limits())
    assert {name for name, at in times().items() if at != before[name]} >= {"runa.html", "odd.html"}, "another day"


def test_a_board_of_one_tells_all_of_them_below(own: Home) -> None:
    text = own.roster.read_text("utf-8")
    own.roster.write_text(text[: text.index('[[athlete]]\nid = "odd"')], "utf-8")
    alone = Page(_written(own))
    told = " ".join(alone.text.split())
    assert "The reverse taper" in told
    assert "Repeats: 6 x 1 min" in told
    for attributes in alone.all("a"):
        target = str(attributes.get("href") or "")
        if target and not target.startswith("#"):
            assert (own.path / target.split("#", maxsplit=1)[0]).is_file(), target


def test_the_same_facts_give_the_same_board(own: Home) -> None:
    assert _written(own) == _written(own)


def test_a_board_of_nobody_is_a_board(own: Home) -> None:
    text = own.roster.read_text("utf-8")
    own.roster.write_text(text[: text.index("[[athlete]]")], "utf-8")
    assert "No athlete in the roster." in _written(own)


def test_it_can_be_written_for_any_day(own: Home) -> None:
    roster, store = opened(own)
    for days in (-200, -13, -12, 0, 60):
        page = write(own, roster, store, NOW + timedelta(days=days), default_limits()).read_text("utf-8")
        assert "Runa Vik" in page
    assert "half in 54 days" in write(own, roster, store, NOW - timedelta(days=60), default_limits()).read_text("utf-8")
