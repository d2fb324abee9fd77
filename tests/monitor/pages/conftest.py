from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.monitor.pages.scene import PAGE, PUBLIC, URL, Pages, make_pages_home


@pytest.fixture(scope="session")
def read_home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_pages_home(tmp_path_factory.mktemp("pages") / "home")


@pytest.fixture
def pages(read_home: Path, tmp_path: Path) -> Pages:
    """Served on this machine."""
    return Pages(Path(shutil.copytree(read_home, tmp_path / "home")))


@pytest.fixture
def public(read_home: Path, tmp_path: Path) -> Pages:
    """Behind a proxy with https."""
    home = Path(shutil.copytree(read_home, tmp_path / "public"))
    text = (home / "roster.toml").read_text("utf-8")
    (home / "roster.toml").write_text(text.replace(PAGE, PUBLIC), "utf-8")
    return Pages(home, URL)
