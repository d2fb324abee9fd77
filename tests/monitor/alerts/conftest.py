from pathlib import Path

import pytest

from tests.monitor.alerts.scene import Scene


@pytest.fixture
def scene(tmp_path: Path) -> Scene:
    """One athlete, one coach with one channel, noon."""
    return Scene(tmp_path)
