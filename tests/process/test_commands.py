"""Commands as real processes: start-up, pipes, signals, and all of them beside a daemon and beside each other."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.fitwriter import activity
from tests.homes import LATER, fallow, make_home, put, run_on
from tests.process.daemons import as_process, until
from tests.targets import http_target
from tests.waiting import PATIENCE_SECONDS

ROOT = Path(__file__).parent.parent.parent
FALLOW = [sys.executable, "-c", "from monitor.cli.main import run; run()"]
HEAVY = ("duckdb", "rich", "pydantic", "numpy", "apprise", "watchdog", "jinja2")


def _environment(**more: str) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("FALLOW_", "COLUMNS"))}
    return {**kept, "PYTHONIOENCODING": "utf-8", **more}


def ran(*arguments: str, home: Path | None = None, **more: str) -> subprocess.CompletedProcess[str]:
    command = [*FALLOW, *arguments, *(("--home", str(home)) if home else ())]
    return subprocess.run(
        command,
        cwd=ROOT,
        env=_environment(**more),
        capture_output=True,
        encoding="utf-8",
        timeout=PATIENCE_SECONDS,
        check=False,
    )


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = make_home(tmp_path_factory.mktemp("process") / "home")
    assert fallow("scan", "--as-of", LATER, home=made).status == 0
    return made


@pytest.fixture
def watching(home: Path) -> Iterator[subprocess.Popen[str]]:
    """A daemon at work on the home, ended cleanly."""
    command = [*FALLOW, "watch", "--as-of", LATER, "--home", str(home)]
    with subprocess.Popen(
        command, cwd=ROOT, env=_environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE, encoding="utf-8"
    ) as daemon:
        assert daemon.stdout is not None
        assert daemon.stdout.readline() == "watching 1 folders\n"
        yield daemon
        daemon.send_signal(signal.SIGTERM)
        assert daemon.wait(PATIENCE_SECONDS) == 0


def test_help_imports_nothing_heavy() -> None:
    script = (
        "import sys\nfrom monitor.cli.main import run\n"
        "try:\n    run(['--help'])\nexcept SystemExit as end:\n    assert end.code == 0\n"
        f"print(*[name for name in {HEAVY!r} if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, env=_environment(), capture_output=True, encoding="utf-8", check=True
    )
    assert "Commands:" in done.stdout
    assert done.stdout.splitlines()[-1] == ""


def test_reading_what_is_known_imports_neither_apprise_nor_a_decoder(home: Path) -> None:
    script = (
        "import sys\nfrom monitor.cli.main import run\n"
        f"try:\n    run(['findings', '--json', '--home', {str(home)!r}])\nexcept SystemExit:\n    pass\n"
        "print([name for name in ('apprise', 'fitparse', 'fitfast', 'watchdog', 'rich') if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, env=_environment(), capture_output=True, encoding="utf-8", check=True
    )
    assert done.stdout.splitlines()[-1] == "[]"


def test_a_process_that_decodes_knows_no_store_and_no_roster(tmp_path: Path) -> None:
    (tmp_path / "run.fit").write_bytes(activity(datetime(2026, 10, 6, 7, tzinfo=UTC), samples={"hr_bpm": [100] * 99}))
    script = (
        "import pathlib, sys\nimport monitor.intake.worker_main\n"
        "from monitor.intake.reading import ReadJob, read_path\nfrom monitor.values import IntakeOptions\n"
        f"job = ReadJob(pathlib.Path({str(tmp_path)!r}), 'run.fit', IntakeOptions('Europe/Oslo'))\n"
        "assert read_path(job).facts.recordings[0].digest\n"
        "print([name for name in ('duckdb', 'pydantic', 'monitor.roster', 'tomlkit') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, encoding="utf-8", check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_a_reader_that_goes_away_is_no_error(home: Path) -> None:
    line = f"{shell(FALLOW)} intake --json --home '{home}' | head -n 1; echo ${{PIPESTATUS[0]}}"
    done = subprocess.run(
        ["bash", "-c", line], cwd=ROOT, env=_environment(), capture_output=True, encoding="utf-8", check=True
    )
    assert done.stderr == ""
    assert done.stdout.splitlines() == ["[", "0"]


def shell(command: list[str]) -> str:
    return " ".join(f'"{part}"' for part in command)


def test_colour_never_reaches_a_pipe_and_any_encoding_will_do(home: Path) -> None:
    done = ran("status", "--as-of", LATER, home=home, PYTHONIOENCODING="ascii", FORCE_COLOR="1", NO_COLOR="1")
    assert done.returncode == 0, done.stderr
    assert "\x1b" not in done.stdout
    assert done.stdout.isascii()


def test_commands_work_beside_a_daemon_and_beside_each_other(home: Path, watching: subprocess.Popen[str]) -> None:
    commands = (
        ("status", "--as-of", LATER, "--json"), ("findings", "--json"), ("scan", "--as-of", LATER, "--json"),
        ("intake", "--json"), ("scan", "--as-of", LATER, "--json"), ("plan", "runa", "--as-of", LATER, "--json"),
    )  # fmt: skip
    put(home / "exports/runa/late_ride.fit", run_on(7, 17, 30, sport="cycling", speed=7.0, bpm=110))
    with ThreadPoolExecutor(3) as pool:
        done = list(pool.map(lambda command: as_process(*command, home=home, anew=False), commands))
    assert [one.returncode for one in done] == [0] * len(commands), [one.stderr for one in done]
    rows = fallow("intake", "--json", home=home).json()
    assert [row["path"] for row in rows].count("late_ride.fit") == 1
    assert watching.poll() is None


def test_two_scans_at_once_read_every_file_once_and_send_every_alert_once(tmp_path: Path) -> None:
    with http_target() as target:
        home = make_home(tmp_path / "home", url=target.url())
        with ThreadPoolExecutor(2) as pool:
            scan = ("scan", "--as-of", LATER, "--json")
            done = list(pool.map(lambda _: as_process(*scan, home=home, anew=False), range(2)))
        alone = make_home(tmp_path / "alone", url=target.url("/alone"))
        assert fallow("scan", "--as-of", LATER, home=alone).status == 0
    assert [one.returncode for one in done] == [0, 0], [one.stderr for one in done]
    titles = [one.title for one in target.accepted if one.path == "/hook"]
    assert sorted(titles) == sorted(one.title for one in target.accepted if one.path == "/alone")
    rows = fallow("intake", "--json", home=home).json()
    assert sorted(row["path"] for row in rows) == sorted({row["path"] for row in rows})
    once = fallow("findings", "--json", home=alone).json()
    assert [one["id"] for one in fallow("findings", "--json", home=home).json()] == [one["id"] for one in once]


def waits_for_input(process: subprocess.Popen[str]) -> bool:
    """Whether it reads its standard input; a Ctrl-C that comes just before the read begins is heard only at its end.

    Where the system does not tell which call it is in, whether it sleeps.
    """
    told = Path(f"/proc/{process.pid}")
    with contextlib.suppress(OSError):
        call = (told / "syscall").read_text().split()
        return call[0] in ("0", "63") and call[1] == "0x0"  # read, on x86-64 and on aarch64; file 0
    stat = told / "stat"
    return not stat.exists() or stat.read_text().rpartition(")")[2].split()[0] == "S"


def test_ctrl_c_in_a_question_writes_nothing_and_shows_no_traceback(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    command = [*FALLOW, "checkin", "runa", "--home", str(home)]
    with subprocess.Popen(
        command, cwd=ROOT, env=_environment(), stdin=subprocess.PIPE, stderr=subprocess.PIPE, encoding="utf-8"
    ) as asking:
        assert asking.stderr is not None
        assert asking.stderr.read(4) == "1/5 "
        until(lambda: waits_for_input(asking), "it waits for an answer")
        asking.send_signal(signal.SIGINT)
        assert asking.wait(PATIENCE_SECONDS) == 130
        assert "Traceback" not in asking.stderr.read()
    assert not list((home / "exports/runa").iterdir())


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no device that is always full")
@pytest.mark.parametrize("command", ["findings", "intake", "rules"])
def test_output_that_cannot_be_written_is_one_line(home: Path, command: str) -> None:
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [*FALLOW, command, "--home", str(home)], cwd=ROOT, env=_environment(), stdout=full, stderr=subprocess.PIPE,
            encoding="utf-8", timeout=PATIENCE_SECONDS, check=False,
        )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1
    assert "No space left" in done.stderr


def test_two_forms_of_output_at_once_are_refused(home: Path) -> None:
    done = ran("findings", "--csv", "--json", home=home)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1


@pytest.mark.skipif(not hasattr(os, "openpty"), reason="needs a terminal of its own")
def test_ctrl_c_in_an_import_says_what_was_kept_and_the_next_scan_goes_on(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home")
    assert fallow("scan", "--as-of", LATER, home=home).status == 0
    walk = run_on(2, 12, 10, sport="walking", speed=1.3, bpm=95)
    for number in range(300):
        put(home / f"exports/runa/many/{number}.fit", walk + bytes(number % 7))
    screen, terminal = os.openpty()
    command = [*FALLOW, "scan", "--as-of", LATER, "--home", str(home)]
    with subprocess.Popen(command, cwd=ROOT, env=_environment(TERM="xterm"), stderr=terminal) as scanning:
        os.close(terminal)  # so that reading ends with the command, whatever it has said
        said = b""
        while b"reading" not in said:
            said += os.read(screen, 4096)
        scanning.send_signal(signal.SIGINT)
        with contextlib.suppress(OSError):
            while more := os.read(screen, 4096):
                said += more
        status = scanning.wait(PATIENCE_SECONDS)
    os.close(screen)
    assert (status, b"goes on from there" in said) == (130, True), said
    assert b"Traceback" not in said
    assert re.search(rb"stopped: \d+ files read so far are kept", said)
    for number in range(100, 300):  # a hundred tell whether it goes on
        (home / f"exports/runa/many/{number}.fit").unlink()
    assert fallow("scan", "--as-of", LATER, "--json", home=home).json()["files_seen"] == 106
