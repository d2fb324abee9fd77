from pathlib import Path

import pytest

from tests.monitor.daemon.loop_bench import Bench


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)
