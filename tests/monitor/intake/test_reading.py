"""What is opened at all, and what one file gives when it is read in this process."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from monitor.intake import kinds, reading
from monitor.intake.reading import ReadJob, fingerprint, read_path
from monitor.values import IntakeOptions
from tests.fitwriter import activity

OSLO = IntakeOptions("Europe/Oslo")
RUN = activity(datetime(2026, 10, 6, 7, 0, tzinfo=UTC), samples={"hr_bpm": np.full(300, 120.0)})


def refused(root: Path, relative: str) -> str:
    result = read_path(ReadJob(root, relative, OSLO))
    assert result.facts is None
    assert result.sha256 == ""
    assert result.reason is not None
    return result.reason


def test_a_sound_file_gives_its_facts_with_hash_size_and_digest(tmp_path: Path) -> None:
    (tmp_path / "deep" / "er").mkdir(parents=True)
    (tmp_path / "deep" / "er" / "run.fit").write_bytes(RUN)
    result = read_path(ReadJob(tmp_path, "deep/er/run.fit", OSLO))
    assert (result.sha256, result.size, result.reason) == (hashlib.sha256(RUN).hexdigest(), len(RUN), None)
    assert result.facts is not None
    (recording,) = result.facts.recordings
    assert recording.digest is not None
    assert recording.digest.sport == "running"
    assert recording.digest.hr_seconds[120] > 250


def test_a_session_without_samples_has_a_digest_too(tmp_path: Path) -> None:
    start = datetime(2026, 10, 6, 7, 0, tzinfo=UTC)
    (tmp_path / "gym.fit").write_bytes(activity(start, "training", "strength_training", elapsed_s=1800.0))
    result = read_path(ReadJob(tmp_path, "gym.fit", OSLO))
    assert result.facts is not None
    assert result.facts.recordings[0].digest is not None
    assert result.facts.recordings[0].digest.sport == "strength"


def test_an_unreadable_file_gives_the_reason_and_its_hash(tmp_path: Path) -> None:
    (tmp_path / "run.fit").write_bytes(RUN[:30])
    result = read_path(ReadJob(tmp_path, "run.fit", OSLO))
    assert result.facts is None
    assert result.reason is not None
    assert "damaged before anything was recorded" in result.reason
    assert result.sha256 == hashlib.sha256(RUN[:30]).hexdigest()


def test_a_link_is_never_followed_at_any_step(tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "run.fit").write_bytes(RUN)
    root = tmp_path / "root"
    root.mkdir()
    (root / "run.fit").symlink_to(outside / "run.fit")
    (root / "folder").symlink_to(outside)
    for relative in ("run.fit", "folder/run.fit", "../outside/run.fit", str(outside / "run.fit")):
        assert refused(root, relative) == "a link or outside of its folder; it was not opened"
        assert fingerprint(ReadJob(root, relative, OSLO))[0] == ""


def test_pipes_folders_and_devices_named_like_files_are_never_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.fit")
    (tmp_path / "folder.fit").mkdir()
    assert refused(tmp_path, "pipe.fit") == "not a regular file; it was not opened"
    assert refused(tmp_path, "folder.fit") == "not a regular file; it was not opened"
    assert refused(Path("/dev"), "null") == "not a regular file; it was not opened"


def test_a_file_of_three_gigabytes_is_refused_by_size_before_it_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with (tmp_path / "big.fit").open("wb") as file:
        file.truncate(3_000_000_000)
    monkeypatch.setattr(kinds, "read", lambda *_: pytest.fail("it was read"))
    assert refused(tmp_path, "big.fit") == "3000 MB, more than the 67 MB such a file may have"
    assert fingerprint(ReadJob(tmp_path, "big.fit", OSLO)) == ("", 3_000_000_000)


def test_a_file_that_is_gone_or_has_an_impossible_name_is_said_so(tmp_path: Path) -> None:
    assert refused(tmp_path, "gone.fit") == "no longer there"
    assert refused(tmp_path / "no such folder", "run.fit") == "no longer there"
    assert refused(tmp_path, "nu\0ll.fit") == "its name cannot be opened"
    assert refused(tmp_path, "x" * 300 + ".fit") == "cannot be opened: file name too long"


class Growing:
    """A file that somebody goes on writing to while it is read, or has cut short."""

    def __init__(self, real: Callable[[ReadJob], Any], more: int) -> None:
        self.real, self.more = real, more

    def __call__(self, job: ReadJob) -> object:
        file = self.real(job)
        path = job.root / job.relative
        size = path.stat().st_size

        class Read(type(file)):
            more = self.more

            def readinto(self, into: object) -> object:
                if self.more:
                    os.truncate(path, size + self.more)
                    type(self).more = 0
                return super().readinto(into)

        found = Read(os.dup(file.fileno()), "rb")
        file.close()
        return found


@pytest.mark.parametrize(("more", "reason"), [(0, None), (1, "grew"), (2_000_000, "grew")])
def test_a_file_that_grows_while_it_is_read_waits(
    more: int, reason: str | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "run.fit").write_bytes(RUN)
    monkeypatch.setattr(reading, "_opened", Growing(reading._opened, more))
    result = read_path(ReadJob(tmp_path, "run.fit", OSLO))
    assert (result.facts is None) == (reason is not None)
    assert reason is None or reason in str(result.reason)


def test_nothing_is_known_of_the_size_of_a_file_that_is_gone(tmp_path: Path) -> None:
    assert read_path(ReadJob(tmp_path, "gone.fit", OSLO)).size == 0
    assert fingerprint(ReadJob(tmp_path, "gone.fit", OSLO)) == ("", 0)


def test_the_cleaned_samples_are_handed_on_where_they_are_asked_for(tmp_path: Path) -> None:
    (tmp_path / "run.fit").write_bytes(RUN)
    for kept, job in ((False, ReadJob(tmp_path, "run.fit", OSLO)), (True, ReadJob(tmp_path, "run.fit", OSLO, True))):
        facts = read_path(job).facts
        assert facts is not None
        assert (facts.recordings[0].track is not None) is kept


def test_odd_names_are_read(tmp_path: Path) -> None:
    for name in ("line\nbreak.fit", "<b>&.fit", "\udcff.fit", "x" * 251 + ".fit"):
        (tmp_path / name).write_bytes(RUN)
        assert read_path(ReadJob(tmp_path, name, OSLO)).reason is None


def test_more_rows_than_allowed_are_refused(tmp_path: Path) -> None:
    (tmp_path / "run.fit").write_bytes(RUN)
    job = ReadJob(tmp_path, "run.fit", OSLO)
    assert read_path(job, most_rows=300).reason is None
    assert read_path(job, most_rows=299).reason == "300 rows of samples, more than the 299 that one file may have"


def test_a_reader_that_breaks_down_costs_the_file_and_names_no_content(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "run.fit").write_bytes(RUN)

    def broken(*_: object) -> None:
        raise ZeroDivisionError("secret heart rate 181")

    monkeypatch.setattr(reading.kinds, "read", broken)
    assert read_path(ReadJob(tmp_path, "run.fit", OSLO)).reason == "the reader broke down on it (ZeroDivisionError)"
