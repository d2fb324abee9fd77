from __future__ import annotations

from pathlib import Path

import pytest

from monitor.board.rendering import Folder, put, stamp


def _page(made_from: str) -> str:
    return f'<!doctype html><meta name="made-from" content="{made_from}">'


def _names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_file_is_private_and_nothing_lies_beside_it(tmp_path: Path) -> None:
    put(tmp_path / "board.html", "one")
    put(tmp_path / "board.html", "two")
    assert (tmp_path / "board.html").stat().st_mode & 0o777 == 0o600
    assert (tmp_path / "board.html").read_text() == "two"
    assert _names(tmp_path) == ["board.html"]


def test_a_file_that_cannot_be_replaced_is_left_as_it_was(tmp_path: Path) -> None:
    (tmp_path / "board.html").mkdir()
    with pytest.raises(OSError, match="board"):
        put(tmp_path / "board.html", "text")
    assert _names(tmp_path) == ["board.html"], "and no half of it lies about"


def test_half_characters_do_not_keep_a_page_from_being_written(tmp_path: Path) -> None:
    put(tmp_path / "board.html", "a\ud800b")
    assert (tmp_path / "board.html").read_text() == "a\\ud800b"


def test_a_page_is_known_by_what_it_was_made_from(tmp_path: Path) -> None:
    folder = Folder(tmp_path / "board")
    one, other = stamp("a", 1), stamp("a", 2)
    assert one != other
    assert not folder.has("runa.html", one)
    path = folder.put("runa.html", _page(one))
    assert path.parent.stat().st_mode & 0o777 == 0o700
    assert Folder(tmp_path / "board").has("runa.html", one)
    assert not Folder(tmp_path / "board").has("runa.html", other)


def test_pages_that_nothing_leads_to_are_taken_away_and_others_files_are_not(tmp_path: Path) -> None:
    before = Folder(tmp_path)
    for name in ("gone.html", "asked.html", "kept.html"):
        before.put(name, _page(stamp(name)))
    (tmp_path / "mine.html").write_text("the user's own page")
    after = Folder(tmp_path)
    after.has("asked.html", stamp("asked.html"))
    after.keep_all(["kept.html"])
    after.clear()
    assert _names(tmp_path) == ["asked.html", "kept.html", "mine.html"]


def test_an_empty_folder_does_not_stay(tmp_path: Path) -> None:
    Folder(tmp_path / "board").put("gone.html", _page(stamp(1)))
    Folder(tmp_path / "board").clear()
    assert not (tmp_path / "board").exists()
    Folder(tmp_path / "board").clear()
