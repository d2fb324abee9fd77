"""The home folder: where the roster, the store, its journal, the log and the board lie."""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Home:
    path: Path

    @property
    def roster(self) -> Path:
        return self.path / "roster.toml"

    @property
    def store(self) -> Path:
        return self.path / "fallow.duckdb"

    @property
    def journal(self) -> Path:
        return self.path / "fallow.journal"

    @property
    def board(self) -> Path:
        return self.path / "board.html"

    @property
    def log(self) -> Path:
        return self.path / "fallow.log"

    @property
    def pages_log(self) -> Path:
        """The log of `fallow serve`, a process of its own."""
        return self.path / "fallow.pages.log"

    @property
    def secrets(self) -> Path:
        """Secrets of the environment for cron, where `doctor --cron` was asked to keep them."""
        return self.path / "fallow.env"

    @property
    def links(self) -> Path:
        """Hashes of the personal links; a rebuild leaves it alone."""
        return self.path / "fallow.links.json"

    @property
    def links_used(self) -> Path:
        """When each link was last used."""
        return self.path / "fallow.links-used.json"

    @property
    def lock(self) -> Path:
        return self.path / "fallow.lock"

    @property
    def state(self) -> Path:
        """What a running daemon says of itself, for `status`."""
        return self.path / "fallow.state.json"

    def made(self) -> Home:
        """The same home, with the folder there and private to its owner."""
        self.path.mkdir(mode=0o700, parents=True, exist_ok=True)
        return self


def replace_file(path: Path, content: bytes, *, durable: bool = False) -> None:
    """Put a file in place in one step: nobody ever reads half of it, and nobody but its owner reads it.

    `durable`: also after a power cut. OSError where the disk does not take it; what lay there before then stays.
    """
    beside = path.with_name(f".{path.name}.{os.getpid()}.writing")
    try:
        descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            if durable:
                file.flush()
                os.fsync(file.fileno())
        beside.replace(path)
    except OSError:
        with suppress(OSError):
            beside.unlink()
        raise


def find_home(option: Path | None) -> Home:
    """Home from --home, else FALLOW_HOME, else the platform's user data folder."""
    if option is not None:
        return Home(option.expanduser().resolve())
    if named := os.environ.get("FALLOW_HOME"):
        return Home(Path(named).expanduser().resolve())
    from platformdirs import user_data_path  # noqa: PLC0415 - keeps start-up short

    return Home(user_data_path("fallow", appauthor=False))
