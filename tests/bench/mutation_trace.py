"""Which tests run which lines, and how long each takes: a plugin of pytest for `mutations.py --by-line`.

Used as `-p tests.bench.mutation_trace` with MUTATION_TRACE naming the file to write.
"""

from __future__ import annotations

import json
import os
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import coverage
import pytest

measure = coverage.Coverage(data_file=None, source=["rules", "monitor"], config_file=False, messages=False)
seconds: dict[str, float] = {}


def pytest_configure() -> None:
    measure.start()


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    measure.switch_context(item.nodeid)
    yield
    measure.switch_context("")


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    seconds[report.nodeid] = seconds.get(report.nodeid, 0.0) + report.duration


def pytest_unconfigure() -> None:
    measure.stop()
    data = measure.get_data()
    lines: dict[str, dict[int, list[str]]] = defaultdict(dict)
    for name in data.measured_files():
        place = str(Path(name).relative_to(Path.cwd()))
        lines[place] = {line: [one for one in of if one] for line, of in data.contexts_by_lineno(name).items()}
    Path(os.environ["MUTATION_TRACE"]).write_text(json.dumps({"seconds": seconds, "lines": lines}), "utf-8")
