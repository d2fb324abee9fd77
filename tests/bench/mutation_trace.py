"""Which tests run which functions, and how long each takes: a plugin of pytest for `mutations.py --traced`.

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

from tests.bench.mutations import functions_of

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
    found: dict[str, set[str]] = defaultdict(set)
    for name in (one for one in data.measured_files() if one.endswith(".py")):
        path = Path(name)
        functions = list(functions_of(path.read_text("utf-8")))
        for line, tests in data.contexts_by_lineno(name).items():
            inside = [function for function, first, last in functions if first <= line <= last]
            for key in (*inside, str(path.relative_to(Path.cwd()))):
                found[key].update(one for one in tests if one)
    told = {"seconds": seconds, "functions": {key: sorted(tests) for key, tests in found.items()}}
    Path(os.environ["MUTATION_TRACE"]).write_text(json.dumps(told), "utf-8")
