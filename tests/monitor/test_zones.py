"""Which data of time zones a day is told by: the newer of the system's and the package's."""

from __future__ import annotations

import os
import subprocess
import sys
import zoneinfo
from pathlib import Path

import pytest
import tzdata

import monitor
from monitor.clock import newest_zones


@pytest.mark.parametrize(
    ("first_line", "newer"),
    [
        ("# version 2026e\n", False),
        ("# version 2026f\n", False),
        ("# version 2026g\n", True),
        ("# version 2027a\n", True),
        ("# version 2025z\n", False),
        ("", False),
        (None, False),
    ],
)
def test_the_systems_zones_are_taken_only_where_they_are_newer(
    tmp_path: Path, first_line: str | None, newer: bool
) -> None:
    if first_line is not None:
        (tmp_path / "tzdata.zi").write_text(first_line + "R d 1916 o - Jun 14 23s 1 S\n")
    nothing = str(tmp_path / "nothing")
    assert newest_zones([str(tmp_path), nothing], "2026f") == ((str(tmp_path),) if newer else ())


def test_the_program_reads_zones_by_that_choice() -> None:
    assert monitor.__doc__
    assert all(newest_zones([folder], tzdata.IANA_VERSION) for folder in zoneinfo.TZPATH)
    assert str(zoneinfo.ZoneInfo("Europe/Oslo")) == "Europe/Oslo"


def test_a_path_that_the_user_names_is_left_as_it_is(tmp_path: Path) -> None:
    said = subprocess.run(
        [sys.executable, "-c", "import monitor, zoneinfo; print(*zoneinfo.TZPATH)"],
        env={**os.environ, "PYTHONTZPATH": str(tmp_path)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert said.stdout.strip() == str(tmp_path)
