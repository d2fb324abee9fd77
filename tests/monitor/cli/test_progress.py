"""What is drawn while many files are read, and for whom."""

from __future__ import annotations

import io
import re

from monitor.cli.passes import WORTH_SHOWING_FILES, progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def drawn(out: io.StringIO, files: int) -> str:
    with progress("reading", files, out) as done:
        for _ in range(files):
            done(1)
    return re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", out.getvalue())


def test_whoever_watches_sees_files_done_their_rate_and_the_time_left() -> None:
    told = drawn(Terminal(), WORTH_SHOWING_FILES)
    assert f"{WORTH_SHOWING_FILES}/{WORTH_SHOWING_FILES} files" in told
    assert re.search(r"\d+ a second, left", told)
    assert re.search(r"left \d:\d\d:\d\d", told)


def test_nothing_is_drawn_for_a_few_files_or_where_nobody_watches() -> None:
    assert drawn(Terminal(), WORTH_SHOWING_FILES - 1) == ""
    assert drawn(io.StringIO(), WORTH_SHOWING_FILES) == ""
