from __future__ import annotations

import pytest

from monitor.home import Home
from tests.boards import make_board_home


@pytest.fixture(scope="session")
def board_home(tmp_path_factory: pytest.TempPathFactory) -> Home:
    """A home with its board; read it, and copy it before changing anything."""
    return make_board_home(tmp_path_factory.mktemp("board") / "home")
