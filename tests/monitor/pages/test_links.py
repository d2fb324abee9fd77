"""Personal links: one a person, only hashes kept, void when revoked, there after a rebuild."""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime
from pathlib import Path

import pytest

from monitor.errors import WorkFailed
from monitor.home import Home
from monitor.pages.links import Links, PageOwner, session_of, used_at
from tests.homes import fallow
from tests.monitor.pages.scene import NOW, RUNA, Pages


def _token(out: str) -> str:
    return next(line for line in out.splitlines() if "/k/" in line).rpartition("/k/")[2].strip()


def test_a_link_is_printed_once_and_only_hashes_of_it_are_kept(pages: Pages) -> None:
    ran = fallow("link", "runa", home=pages.path)
    token = _token(ran.out)
    assert len(token) >= 43
    kept = pages.home.links.read_text("utf-8")
    assert token not in kept
    assert session_of(token) not in kept
    assert pages.home.links.stat().st_mode & 0o077 == 0
    assert pages.links.of_token(token) == RUNA
    assert token not in fallow("link", home=pages.path).out + fallow("link", "--json", home=pages.path).out


def test_the_cookie_of_a_link_is_not_the_link(pages: Pages) -> None:
    token = pages.links.make(RUNA, NOW)
    assert pages.links.of_session(token) is None
    assert pages.links.of_token(session_of(token)) is None
    assert pages.links.of_session(session_of(token)) == RUNA


def test_a_new_link_makes_the_one_before_void_also_where_it_is_open(pages: Pages) -> None:
    first = pages.opened()
    assert first.get("/").status_code == 200
    again = fallow("link", "runa", home=pages.path)
    assert "The link before is void now." in again.out
    assert first.get("/").status_code == 403


def test_revoking_closes_every_page_at_once(pages: Pages) -> None:
    token = pages.links.make(RUNA, NOW)
    browser = pages.following(token)
    ran = fallow("link", "runa", "--revoke", home=pages.path)
    assert "the link is void" in ran.out
    assert browser.get("/").status_code == 403
    assert browser.get(f"/k/{token}").status_code == 404
    assert "had no link" in fallow("link", "runa", "--revoke", home=pages.path).out


def test_the_list_says_who_has_a_link_and_when_it_was_last_used(pages: Pages) -> None:
    assert "Nobody has a link" in fallow("link", home=pages.path).out
    fallow("link", "coach", home=pages.path)
    pages.opened()
    rows = {row["id"]: row for row in fallow("link", "--json", home=pages.path).json()}
    assert rows["coach"]["kind"] == "coach"
    assert rows["coach"]["used_at"] is None
    assert datetime.fromisoformat(rows["runa"]["used_at"]).tzinfo is not None
    assert "Coach Ida (coach coach): made" in fallow("link", home=pages.path).out


def test_links_survive_a_rebuild_of_the_store(pages: Pages) -> None:
    browser = pages.opened()
    assert fallow("rebuild", "--yes", home=pages.path).status == 0
    assert browser.get("/").status_code == 200


def test_who_is_no_longer_in_the_roster_does_not_get_in(pages: Pages) -> None:
    browser = pages.opened(PageOwner("athlete", "odd"))
    assert browser.get("/").status_code == 200
    text = pages.home.roster.read_text("utf-8")
    pages.home.roster.write_text(text.replace('id = "odd"', 'id = "oddvar"'), "utf-8")
    assert browser.get("/").status_code == 403


def test_a_bad_edit_of_the_roster_changes_nothing(pages: Pages) -> None:
    browser = pages.opened()
    pages.home.roster.write_text("[[athlete", "utf-8")
    assert browser.get("/").status_code == 200


def test_a_contact_of_an_athlete_s_own_is_that_athlete(pages: Pages) -> None:
    text = pages.home.roster.read_text("utf-8")
    own = '\n[[contact]]\nid = "runa-mail"\nname = "Runa Vik"\nurls = ["json://127.0.0.1:9/x"]\nrole = "athlete"\n'
    text = text.replace('contacts = ["coach"]', 'contacts = ["coach", "runa-mail"]', 1)
    pages.home.roster.write_text(text + own, "utf-8")
    assert fallow("link", "runa-mail", "--json", home=pages.path).json()["id"] == "runa"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [(("nobody",), "there are: runa, odd, per, coach"), (("--revoke",), "whose link?")],
)
def test_wrong_use_is_one_line(pages: Pages, arguments: tuple[str, ...], said: str) -> None:
    ran = fallow("link", *arguments, home=pages.path)
    assert ran.status == 2
    assert said in ran.err
    assert len(ran.err.strip().splitlines()) <= 2


def test_one_id_of_an_athlete_and_a_coach_is_asked_about(pages: Pages) -> None:
    text = pages.home.roster.read_text("utf-8")
    pages.home.roster.write_text(
        text.replace('id = "coach"', 'id = "odd"\nrole = "coach"').replace('"coach"]', '"odd"]'), "utf-8"
    )
    assert "write athlete:odd or coach:odd" in fallow("link", "odd", home=pages.path).err
    assert fallow("link", "coach:odd", "--json", home=pages.path).json()["kind"] == "coach"


def test_a_picture_of_the_link_is_for_its_owner_only(pages: Pages, tmp_path: Path) -> None:
    ran = fallow("link", "runa", "--png", str(tmp_path / "link.png"), home=pages.path)
    assert ran.status == 0
    assert (tmp_path / "link.png").read_bytes().startswith(b"\x89PNG")
    assert (tmp_path / "link.png").stat().st_mode & 0o077 == 0


def test_a_roster_without_a_page_says_what_to_write(pages: Pages) -> None:
    text = pages.home.roster.read_text("utf-8")
    pages.home.roster.write_text(text.replace("[page]", ""), "utf-8")
    for command in (("link", "runa"), ("serve",), ("watch", "--serve")):
        ran = fallow(*command, home=pages.path)
        assert (ran.status, "has no [page]" in ran.err) == (2, True), command
    assert not pages.home.links.exists()


def test_a_link_makes_the_folders_that_pages_write_into(pages: Pages) -> None:
    fallow("link", "runa", home=pages.path)
    assert (pages.folder / "received").is_dir()
    assert (pages.folder / "checkins").is_dir()


def test_nobody_comes_in_by_a_file_that_is_none_and_it_is_not_replaced(pages: Pages) -> None:
    token = pages.links.make(RUNA, NOW)
    for text in ("{", "[1]", '[{"reader": "athlete:runa"}]', "null"):
        pages.home.links.write_text(text, "utf-8")
        os.utime(pages.home.links, ns=(1, 1))
        assert Links(pages.home).of_token(token) is None
        with pytest.raises(WorkFailed, match="no list of links"):
            Links(pages.home).make(RUNA, NOW)
        assert pages.home.links.read_text("utf-8") == text


def test_the_note_of_the_last_use_is_written_now_and_then_and_harms_nothing_when_it_cannot(tmp_path: Path) -> None:
    home = Home(tmp_path / "home").made()
    links = Links(home)
    links.note_used(RUNA, NOW)
    first = json.loads(home.links_used.read_text("utf-8"))
    home.links_used.unlink()
    links.note_used(RUNA, NOW)
    assert not home.links_used.exists()
    links.note_used(RUNA, datetime(2026, 10, 13, 12, 11, tzinfo=UTC))
    assert used_at(home) != first
    home.links_used.unlink()
    home.links_used.mkdir()
    links.note_used(RUNA, datetime(2026, 10, 13, 13, 11, tzinfo=UTC))
