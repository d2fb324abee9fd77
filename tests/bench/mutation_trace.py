"""Which tests run which lines, and how long each takes: a plugin of pytest for `mutations.py --traced`.

Used as `-p tests.bench.mutation_trace` with MUTATION_TRACE naming the file to write: `seconds` of processor by test,
`many`, how many lines of the product it runs, and `lines`, by module, function and line within it, which of `sets` it
is: the tests that run it, as places in `seconds`.
"""

from __future__ import annotations

import json
import os
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import coverage
import pytest

from tests.bench.mutants import bodies, key_of_line

measure = coverage.Coverage(data_file=None, source=["rules", "monitor"], config_file=False, messages=False)
seconds: dict[str, float] = {}


def pytest_configure() -> None:
    measure.start()


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """By the processor, since the clock of a machine under load says more about others than about the test."""
    measure.switch_context(item.nodeid)
    began = sum(os.times()[:4])
    yield
    seconds[item.nodeid] = round(sum(os.times()[:4]) - began, 3)
    measure.switch_context("")


def pytest_unconfigure() -> None:
    measure.stop()
    data = measure.get_data()
    lines: dict[str, int] = {}
    numbers: dict[tuple[str, ...], int] = {}
    many: Counter[str] = Counter()
    for name in (one for one in data.measured_files() if one.endswith(".py")):
        path = Path(name).relative_to(Path.cwd())
        functions = bodies(path)
        for line, told in data.contexts_by_lineno(name).items():
            tests = tuple(sorted(one for one in told if one))
            many.update(tests)
            if tests:
                lines[key_of_line(path, functions, line)] = numbers.setdefault(tests, len(numbers))
    place = {name: at for at, name in enumerate(seconds)}
    sets = [[place[name] for name in names] for names in numbers]
    told_of = {"seconds": seconds, "many": many, "lines": lines, "sets": sets}
    Path(os.environ["MUTATION_TRACE"]).write_text(json.dumps(told_of), "utf-8")
