from __future__ import annotations

from collections.abc import Iterator

import pytest

from monitor.intake.workers import Workers


@pytest.fixture(scope="session")
def workers() -> Iterator[Workers]:
    with Workers(1) as pool:
        yield pool
