from __future__ import annotations

import os

import pytest
from hypothesis import settings

from monitor.home import Home
from tests.boards import make_board_home

settings.register_profile("fallow", deadline=None, derandomize="CI" in os.environ)  # a busy machine is no failure
settings.load_profile("fallow")


@pytest.fixture(scope="session")
def board_home(tmp_path_factory: pytest.TempPathFactory) -> Home:
    """A home with its board; read it, and copy it before changing anything."""
    return make_board_home(tmp_path_factory.mktemp("board") / "home")
