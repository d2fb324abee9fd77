from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from monitor.daemon.daemon_state import StateWriter, read_state
from monitor.home import Home

NOW = datetime(2026, 10, 9, 12, tzinfo=UTC)


def diary_of(home: Home) -> StateWriter:
    folder_watch: Any = SimpleNamespace(folders=1, missing=lambda _: {}, polled={}, held={})
    roster_file: Any = SimpleNamespace(error=None)
    return StateWriter(home, folder_watch, roster_file, lambda: NOW, lambda: 0.0)


def test_what_could_not_be_written_is_written_later_though_nothing_has_changed(tmp_path: Path) -> None:
    home = Home(tmp_path / "gone for a while")
    one = diary_of(home)
    with pytest.raises(OSError, match="No such file"):
        one.keep(["pass keeps failing"])
    home.path.mkdir()
    one.keep(["pass keeps failing"])
    state = read_state(home)
    assert state is not None
    assert state.trouble == "pass keeps failing"


def test_it_writes_only_what_has_changed(tmp_path: Path) -> None:
    home = Home(tmp_path)
    one = diary_of(home)
    one.keep([])
    home.state.unlink()
    one.keep([])
    assert not home.state.exists()
    one.looked()
    one.keep([])
    state = read_state(home)
    assert state is not None
    assert state.last_pass_at == NOW
