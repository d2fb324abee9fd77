"""Uploads: whole or not at all, under a name that is no path, and what became of each."""

from __future__ import annotations

import io
import os
import zipfile
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.folders.listing import left_alone
from monitor.intake.kinds import ending_of
from monitor.pages import upload
from monitor.pages.upload import keep, safe_name
from rules.limits import default_limits
from tests.homes import fallow, run_on
from tests.monitor.pages.scene import HERE, NOW, Pages, hidden, words_of


def _send(browser: Any, *files: tuple[str, bytes]) -> Any:
    return browser.post(
        "/received",
        data={"token": hidden(browser.get("/received"), "token")},
        files=[("files", (name, content)) for name, content in files],
        headers={"origin": HERE},
    )


def _lying(pages: Pages) -> dict[str, bytes]:
    folder = pages.folder / "received"
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())} if folder.is_dir() else {}


def _scan(pages: Pages) -> None:
    for path in (pages.folder / "received").iterdir():
        os.utime(path, (1, 1))
    assert fallow("scan", "--as-of", NOW.isoformat(), home=pages.path).status == 0


def test_several_files_are_put_into_received_and_what_became_of_each_is_told(pages: Pages) -> None:
    browser = pages.opened()
    run = run_on(8, 7, 30)
    answer = _send(browser, ("Morning Run.fit", run), ("rest.csv", b"date,resting_hr\n2026-10-12,50\n"))
    assert (answer.status_code, answer.headers["location"]) == (303, "/received")
    assert _lying(pages) == {"Morning_Run.fit": run, "rest.csv": b"date,resting_hr\n2026-10-12,50\n"}
    page = browser.get("/received")
    assert words_of(page).count("on its way") == 2
    assert '<meta http-equiv="refresh" content="5">' in page.text, "until it is read the page looks again by itself"
    _scan(pages)
    page = browser.get("/received")
    assert "Morning_Run.fit read: 1 session" in words_of(page)
    assert "http-equiv" not in page.text
    assert "A run of 30 min" in words_of(browser.get("/")), "and what was found in it"


@pytest.mark.parametrize(
    ("name", "lands"),
    [
        ("../../../roster.json", "roster.json"),
        ("..\\..\\windows\\run.fit", "run.fit"),
        ("/etc/cron.d/x.csv", "x.csv"),
        ("C:\\x\\CON.csv", "file_CON.csv"),
        (".hidden.fit", "hidden.fit"),
        ("~run.fit", "run.fit"),
        ("löp & gå.GPX", "lop_ga.gpx"),
        ("走.tcx.gz", "file.tcx.gz"),
        ("a/b/.fit", "file.fit"),
        ("x" * 300 + ".fit", "x" * 60 + ".fit"),
        ("run.fit.part", None),
        ("run.exe", None),
        ("run.fit\n.sh", None),
        ("fallow.duckdb", None),
        ("", None),
    ],
)
def test_a_name_is_never_a_path(name: str, lands: str | None) -> None:
    assert safe_name(name) == lands


@given(st.text(max_size=80), st.sampled_from([".fit", ".csv", ".checkin.json", ".zip", "", ".FIT", "/.fit", "\\.gpx"]))
def test_whatever_a_name_is_it_lands_as_one_plain_name_that_is_looked_at(told: str, ending: str) -> None:
    name = safe_name(told + ending) or "refused.csv"
    assert name == Path(name).name
    assert name.isascii()
    assert not left_alone(name)
    assert ending_of(name) is not None
    assert len(name) < 90


def test_attacks_by_name_write_nothing_outside_of_received(pages: Pages) -> None:
    browser = pages.opened()
    before = {path: path.read_bytes() for path in pages.path.rglob("*") if path.is_file() and "links" not in path.name}
    for name in ("../../../roster.toml", "../run.csv", "/tmp/x.csv", "..%2f..%2fx.csv", "a\\..\\..\\x.csv"):
        _send(browser, (name, b"date,resting_hr\n2026-10-12,50\n"))
    for path, content in before.items():
        assert path.read_bytes() == content, path
    new = {path for path in pages.path.rglob("*.csv") if path not in before}
    assert new
    assert {path.parent for path in new} == {pages.folder / "received"}


def test_a_file_of_another_kind_or_without_content_is_refused_and_the_others_are_taken(pages: Pages) -> None:
    browser = pages.opened()
    answer = _send(browser, ("a.exe", b"MZ"), ("b.fit", b""), ("c.csv", b"date,resting_hr\n2026-10-12,50\n"))
    assert answer.status_code == 400
    said = words_of(answer)
    assert "1 file taken" in said
    assert "a.exe: not a kind of file that is read" in said
    assert "b.fit: an empty file" in said
    assert list(_lying(pages)) == ["c.csv"]


def test_the_same_file_sent_again_is_there_once_and_another_of_its_name_beside_it(pages: Pages) -> None:
    browser = pages.opened()
    for content in (b"date,resting_hr\n2026-10-12,50\n", b"date,resting_hr\n2026-10-12,50\n", b"other"):
        assert _send(browser, ("a.csv", content)).status_code == 303
    assert list(_lying(pages)) == ["a-2.csv", "a.csv"]


def test_bombs_and_markup_cost_one_file_and_are_shown_as_text(pages: Pages) -> None:
    browser = pages.opened()
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.csv", b"0" * 50_000_000)
        archive.writestr("../../evil.csv", b"date,resting_hr\n2026-10-12,50\n")
    entity = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><gpx>&a;</gpx>'
    page = b"<!doctype html><script>alert(1)</script>"
    _send(browser, ("bomb.zip", bomb.getvalue()), ("entity.gpx", entity), ("page.fit", page))
    _scan(pages)
    said = browser.get("/received")
    assert words_of(said).count("could not be read") == 3
    assert "root:" not in said.text
    assert "<script>alert" not in said.text
    assert not list(pages.path.rglob("evil*"))


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # the library drops its spool unclosed
def test_an_upload_that_is_cut_off_leaves_nothing(pages: Pages) -> None:
    browser = pages.opened()
    token = hidden(browser.get("/received"), "token")

    def half() -> Any:
        yield b'--b\r\ncontent-disposition: form-data; name="token"\r\n\r\n' + token.encode() + b"\r\n"
        yield b'--b\r\ncontent-disposition: form-data; name="files"; filename="a.fit"\r\n\r\nhalf of it'

    headers = {"origin": HERE, "content-type": "multipart/form-data; boundary=b"}
    assert browser.post("/received", content=half(), headers=headers).status_code in (303, 400)
    assert _lying(pages) == {}


def test_a_crash_while_a_file_is_written_leaves_no_half_of_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(upload.os, "fsync", full)
    assert "could not be written" in keep(tmp_path, "a.fit", io.BytesIO(b"x" * 100), 0)
    assert list((tmp_path / "received").iterdir()) == []


def test_a_disk_that_is_nearly_full_takes_no_upload(tmp_path: Path) -> None:
    assert "nearly full" in keep(tmp_path, "a.fit", io.BytesIO(b"x"), 1 << 60)


def test_a_link_in_the_place_of_received_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "folder").mkdir()
    (tmp_path / "folder/received").symlink_to(tmp_path / "elsewhere")
    assert "not there" in keep(tmp_path / "folder", "a.fit", io.BytesIO(b"x"), 0)
    assert list((tmp_path / "elsewhere").iterdir()) == []


def test_a_link_in_the_place_of_a_file_is_not_written_through(tmp_path: Path) -> None:
    (tmp_path / "received").mkdir()
    (tmp_path / "secret").write_text("as it was")
    (tmp_path / "received/a.fit").symlink_to(tmp_path / "secret")
    assert keep(tmp_path, "a.fit", io.BytesIO(b"new"), 0) == ""
    assert (tmp_path / "secret").read_text() == "as it was"
    assert (tmp_path / "received/a-2.fit").read_bytes() == b"new"


def test_a_file_system_without_hard_links_is_written_to_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(*_: object) -> None:
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(upload.os, "link", none)
    assert keep(tmp_path, "a.fit", io.BytesIO(b"one"), 0) == ""
    assert keep(tmp_path, "a.fit", io.BytesIO(b"two"), 0) == ""
    assert sorted(path.name for path in (tmp_path / "received").iterdir()) == ["a-2.fit", "a.fit"]


@pytest.mark.parametrize(("over", "refused"), [(-1, False), (0, False), (1, True)])
def test_a_file_may_be_as_large_as_the_intake_allows(tmp_path: Path, over: int, refused: bool) -> None:
    size = default_limits().intake.text_bytes + over
    assert bool(keep(tmp_path, "a.csv", io.BytesIO(b"x" * size), 0)) is refused


@pytest.mark.parametrize(("files", "status", "lie"), [(40, 303, 40), (41, 400, 0)])
def test_more_files_than_pages_upload_files_are_refused_together(
    pages: Pages, files: int, status: int, lie: int
) -> None:
    many = [(f"{number}.csv", b"x") for number in range(files)]
    assert _send(pages.opened(), *many).status_code == status
    assert len(_lying(pages)) == lie


@pytest.mark.parametrize(("fields", "status"), [(80, 303), (81, 400)])
def test_a_form_has_no_more_fields_than_pages_form_fields(pages: Pages, fields: int, status: int) -> None:
    browser = pages.opened()
    told = {"token": hidden(browser.get("/received"), "token")} | {f"more{number}": "" for number in range(fields - 1)}
    answer = browser.post("/received", data=told, files={"files": ("a.csv", b"x")}, headers={"origin": HERE})
    assert answer.status_code == status


@pytest.mark.parametrize(("free", "status"), [(536_870_912 + 1, 303), (536_870_912, 400)])
def test_pages_upload_free_bytes_are_left_beside_a_file_of_one(
    pages: Pages, monkeypatch: pytest.MonkeyPatch, free: int, status: int
) -> None:
    monkeypatch.setattr(upload.shutil, "disk_usage", lambda _: SimpleNamespace(free=free))
    assert _send(pages.opened(), ("a.csv", b"x")).status_code == status


def test_too_many_uploads_a_minute_are_refused(pages: Pages) -> None:
    browser = pages.opened()
    token = hidden(browser.get("/received"), "token")
    answers = [
        browser.post(
            "/received", data={"token": token}, files={"files": ("a.csv", b"x")}, headers={"origin": HERE}
        ).status_code
        for _ in range(int(default_limits().pages.uploads_a_minute) + 1)
    ]
    assert (answers[0], answers[-1]) == (303, 429)
