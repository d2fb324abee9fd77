"""Pictures are drawn from the lines that were kept when a session was judged, and are those that its samples give."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from unittest import mock

import pytest

from monitor import words
from monitor.board import write, write_finding
from monitor.home import Home
from monitor.store import findings, recordings
from monitor.store.database import Store
from rules.limits import default_limits
from tests.boards import NOW, ROSTER, opened
from tests.homes import fallow, put

SUMMARY = b"""<TrainingCenterDatabase><Activities>
<Activity Sport="Running"><Id>2026-10-13T16:00:00Z</Id><Lap StartTime="2026-10-13T16:00:00Z">
<TotalTimeSeconds>1800</TotalTimeSeconds><DistanceMeters>5000</DistanceMeters></Lap></Activity>
</Activities></TrainingCenterDatabase>"""
MIGRATION = "0013_traces.sql"


@pytest.fixture
def home(board_home: Home, tmp_path: Path) -> Home:
    shutil.copytree(board_home.path, tmp_path / "home")
    return Home(tmp_path / "home")


def drawn(home: Home) -> dict[str, str]:
    """Name -> text of the board, its pages, and the page of each finding, all made anew."""
    roster, store = opened(home)
    shutil.rmtree(home.path / "board", ignore_errors=True)
    write(home, roster, store, NOW, default_limits())
    with store.reading() as con:
        standing = findings.standing(con)
    for one in standing:
        write_finding(home, roster, store, one, NOW, default_limits())
    return {page.name: page.read_text("utf-8") for page in (home.board, *(home.path / "board").iterdir())}


@pytest.fixture(scope="module")
def pages(board_home: Home, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Drawn from the lines that are kept."""
    return drawn(Home(Path(shutil.copytree(board_home.path, tmp_path_factory.mktemp("drawn") / "home"))))


def kept(home: Home) -> dict[tuple[str, str], tuple[str, bytes]]:
    with opened(home)[1].reading() as con:
        rows = con.execute("SELECT athlete, key, made_from, packed FROM trace").fetchall()
    return {(athlete, key): (made_from, packed) for athlete, key, made_from, packed in rows}


def without_samples() -> mock._patch[mock.Mock]:
    return mock.patch.object(recordings, "samples_of_many", side_effect=AssertionError("samples were read"))


def test_a_board_of_sessions_that_were_judged_by_their_samples_reads_none(home: Home) -> None:
    assert kept(home)
    with without_samples():
        pages = drawn(home)
    assert sum('class="trace"' in page for page in pages.values()) > 2


def test_a_store_without_them_is_drawn_from_the_samples_and_looks_the_same(home: Home, pages: dict[str, str]) -> None:
    with opened(home)[1].writing() as con:
        con.execute("DELETE FROM trace")
    assert drawn(home) == pages


def test_a_store_made_before_them_opens_and_looks_the_same(home: Home, pages: dict[str, str]) -> None:
    store = opened(home)[1]
    with store.writing() as con:
        con.execute("DROP TABLE trace")
        con.execute("DELETE FROM migration WHERE name = ?", [MIGRATION])
    assert drawn(Home(home.path)) == pages
    assert kept(home) == {}


def spoilt_name(store: Store) -> None:
    with store.writing() as con:
        con.execute("UPDATE trace SET made_from = 'other facts', packed = 'nothing that was ever packed'")


def other_session(store: Store) -> None:
    with store.writing() as con:
        con.execute("UPDATE trace SET made_from = (SELECT max(made_from) FROM trace) || key")


@pytest.mark.parametrize("spoil", [spoilt_name, other_session])
def test_lines_of_other_facts_are_not_drawn(home: Home, pages: dict[str, str], spoil: Callable[[Store], None]) -> None:
    spoil(opened(home)[1])
    assert drawn(home) == pages


def test_a_store_that_is_begun_anew_keeps_the_same_lines(home: Home, pages: dict[str, str]) -> None:
    before = kept(home)
    spoilt_name(opened(home)[1])
    home.store.unlink()
    assert fallow("scan", "--as-of", NOW.isoformat(), home=home.path).status == 0
    assert kept(home) == before
    with without_samples():
        again = drawn(home)
    assert {name for name in again if name.startswith("finding")} == {
        name for name in pages if name.startswith("finding")
    }


def test_another_ceiling_takes_the_place_of_the_lines_under_the_old_one(home: Home) -> None:
    before = kept(home)
    home.roster.write_text(home.roster.read_text("utf-8").replace("hr_max = 190", "hr_max = 188"), "utf-8")
    assert fallow("scan", "--as-of", NOW.isoformat(), home=home.path).status == 0
    now = kept(home)
    runa = [one for one in before if one[0] == "runa"]
    assert runa
    assert all(now[one] != before[one] for one in runa)
    with without_samples():
        drawn(home)


def test_a_session_of_which_only_its_summary_is_known_is_judged_again_and_drawn(tmp_path: Path) -> None:
    home = Home(tmp_path)
    for athlete in ("runa", "odd", "nora"):
        (tmp_path / "exports" / athlete).mkdir(parents=True)
    put(tmp_path / "exports" / "runa" / "a.tcx", SUMMARY)
    for highest in (190, 188):
        home.roster.write_text(ROSTER.replace("hr_max = 190", f"hr_max = {highest}"), "utf-8")
        ran = fallow("scan", "--as-of", NOW.isoformat(), home=tmp_path)
        assert ran.status == 0, ran.err
    assert words.board.NO_HEART_RECORDED in drawn(home)["runa.html"]
