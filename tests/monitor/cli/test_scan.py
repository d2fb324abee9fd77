"""`fallow scan`, `rebuild`: the keys of the JSON, what is said, what is left alone."""

from __future__ import annotations

import gzip
from pathlib import Path

from tests.homes import LATER, ROSTER, SECOND, exports, fallow, make_home, put, run_on
from tests.monitor.cli.conftest import Scanned

KEYS = {
    "files_seen", "files_new", "read", "duplicate", "unreadable", "ignored", "sessions", "nights", "mornings",
    "checkins", "findings", "alerts_sent", "alerts_waiting",
}  # fmt: skip


def test_a_scan_counts_what_it_saw_and_did(scans: Scanned) -> None:
    counts = scans.first.json()
    assert set(counts) >= KEYS
    assert all(isinstance(value, int) for value in counts.values())
    assert (counts["files_seen"], counts["files_new"], counts["read"], counts["unreadable"]) == (6, 6, 5, 1)
    assert (counts["sessions"], counts["nights"], counts["mornings"], counts["checkins"]) == (3, 3, 3, 1)
    assert counts["findings"] >= 2
    assert counts["alerts_sent"] == len(scans.sent_first) >= 1
    assert counts["alerts_waiting"] == 0


def test_a_second_scan_finds_nothing_new_and_sends_nothing(scans: Scanned) -> None:
    assert scans.second.out == "6 files seen, 0 new\n0 new findings; 0 alerts sent, 0 waiting\n"
    assert scans.sent_second == scans.sent_first


def test_the_watched_folder_is_only_read(scans: Scanned) -> None:
    assert scans.untouched


def test_alerts_wait_while_a_channel_is_down_and_a_missing_folder_stops_nothing(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", ROSTER.format(url="json://127.0.0.1:9/") + SECOND)
    ran = fallow("scan", "--as-of", LATER, home=home)
    assert ran.status == 0
    assert "odd: the folder is not there" in ran.err
    assert ran.out.splitlines()[0] == "6 files seen, 6 new: 5 read, 1 unreadable"
    assert ran.out.splitlines()[1] == "new in them: 3 sessions, 3 nights, 3 mornings, 1 check-in"
    assert {row["state"] for row in fallow("outbox", "--json", home=home).json()} == {"waiting"}


def test_quiet_hours_hold_what_is_no_stop(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={"run.fit": run_on(8, 17, 62, sport="cycling", speed=7.0, bpm=110)})
    fallow("scan", "--as-of", "2026-10-12T23:00+02:00", home=home)
    put(home / "exports/runa/2.fit", run_on(7, 17, 61, sport="cycling", speed=7.0, bpm=110))
    fallow("scan", "--as-of", "2026-10-12T23:30+02:00", home=home)
    assert {row["state"] for row in fallow("outbox", "--json", home=home).json()} == {"held"}


def test_a_channel_that_could_never_be_sent_to_is_a_wrong_roster(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", url="nosuchservice://token@host")
    ran = fallow("scan", home=home)
    assert ran.status == 2
    assert "contact 'coach'" in ran.err
    assert "token" not in ran.err


def test_a_secret_that_is_not_set_is_named(tmp_path: Path) -> None:
    ran = fallow("scan", home=make_home(tmp_path / "home", url="${FALLOW_NO_SUCH_SECRET}"))
    assert ran.status == 2
    assert "FALLOW_NO_SUCH_SECRET" in ran.err


def test_a_scan_says_where_to_look_next_and_counts_other_kinds_apart(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={**exports(), "plan.pdf": b"%PDF-1.4 "})
    said = " ".join(fallow("scan", "--as-of", LATER, home=home).out.split())
    assert "6 files seen, 6 new: 5 read, 1 unreadable; 1 of other kinds left alone" in said
    for told in ("`fallow findings` lists them", "`fallow intake --state unreadable` says why", "board.html"):
        assert told in said


def test_a_rebuilt_store_tells_the_same_and_sends_nothing_again(own: Path, scans: Scanned) -> None:
    before = fallow("findings", "--json", home=own).json()
    assert fallow("rebuild", home=own).status == 0
    assert fallow("findings", "--json", home=own).json() == []
    again = fallow("scan", "--json", "--as-of", LATER, home=own).json()
    assert (again["read"], again["alerts_sent"]) == (5, 0)
    assert [one["id"] for one in fallow("findings", "--json", home=own).json()] == [one["id"] for one in before]
    assert len(list(own.glob("fallow.broken-*"))) == 1


def test_the_same_recording_packed_is_said_to_be_the_same_and_not_to_tell_more(tmp_path: Path) -> None:
    walk = run_on(2, 12, 30, sport="walking", speed=1.3, bpm=95)
    files = {"walk.fit": walk, "walk.fit.gz": gzip.compress(walk)}
    home = make_home(tmp_path / "home", files=files)
    fallow("scan", "--as-of", LATER, home=home)
    (copy,) = [row for row in fallow("intake", "--json", home=home).json() if row["state"] == "duplicate"]
    assert copy["reason"] in {"the same recording as walk.fit", "the same recording as walk.fit.gz"}
    put(home / "exports/runa/short.fit", run_on(2, 12, 20, sport="walking", speed=1.3, bpm=95))
    fallow("scan", "--as-of", LATER, home=home)
    (short,) = [row for row in fallow("intake", "--json", home=home).json() if row["path"] == "short.fit"]
    assert short["reason"].startswith("the same session as walk.fit")
    assert short["reason"].endswith(", which tells more")
