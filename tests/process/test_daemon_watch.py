"""`fallow watch` as a process: files arrive in real folders, alerts at a real target."""

import json
import os
import re
import shutil
import signal
import socket
import threading
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from monitor.daemon.daemon_state import DaemonState, read_state
from monitor.home import Home
from monitor.store.database import Store
from tests.homes import fallow
from tests.process.comparing import clean_run, findings, hooked, told_by_journal
from tests.process.daemons import (
    Daemon,
    as_process,
    exports,
    home_of,
    ledger,
    run_file,
    snapshot,
    told,
    until,
    watching,
)
from tests.targets import http_target
from tests.waiting import PATIENCE_SECONDS


def state_of(home: Path) -> DaemonState:
    state = read_state(Home(home))
    assert state is not None
    return state


def test_files_renamed_and_written_in_pieces_are_told_of_and_nothing_is_told_twice(tmp_path: Path) -> None:
    with http_target() as target:
        home = home_of(tmp_path, target.url(), athletes=("runa", "hal"))
        other, folder = exports(home), exports(home, "hal")
        with watching(home, folders=2) as daemon:
            (other / "first.fit.part").write_bytes(run_file(30))
            (other / "first.fit.part").rename(other / "first.fit")
            target.wait_for(1)
            whole = run_file(4)
            with (folder / "second.fit").open("wb") as growing:
                for piece in (whole[:9000], whole[9000:9001], whole[9001:]):
                    growing.write(piece)
                    growing.flush()
                    os.fsync(growing.fileno())
            target.wait_for(2)
            (folder / "second (1).fit").write_bytes(whole)
            until(lambda: len(ledger(home)) == 3, "the copy is seen")
            before = snapshot(home / "exports")
            assert daemon.end() == (0, "")
        assert fallow("scan", home=home).status == 0
        assert len(target.received) == 2
        assert snapshot(home / "exports") == before
        assert ledger(home) == {
            "first.fit": "read",
            "second.fit": "read",
            "second (1).fit": "duplicate",
        }


def test_a_second_daemon_on_one_home_says_so_and_ends(tmp_path: Path) -> None:
    home = home_of(tmp_path, "json://127.0.0.1:9/")
    with watching(home):
        done = as_process("watch", home=home)
        assert done.returncode == 1
        assert done.stdout == ""
        assert "another `fallow watch` is at work on this home" in done.stderr
        assert len(done.stderr.splitlines()) == 1
        assert state_of(home).running


def test_a_wrong_roster_at_the_start_is_one_line_and_status_two(tmp_path: Path) -> None:
    home = home_of(tmp_path, "json://127.0.0.1:9/", more="shoe_size = 41")
    done = as_process("watch", home=home)
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert "shoe_size" in done.stderr


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_it_ends_cleanly_when_asked_to(tmp_path: Path, number: signal.Signals) -> None:
    home = home_of(tmp_path, "json://127.0.0.1:9/")
    with watching(home) as daemon:
        assert state_of(home).running
        assert daemon.end(number) == (0, "")
    assert not state_of(home).running


def test_asked_to_end_during_a_first_import_it_does_and_the_rest_is_read_later(tmp_path: Path) -> None:
    home = home_of(tmp_path, "json://127.0.0.1:9/")
    for number in range(60):
        (exports(home) / f"{number}.fit").write_bytes(run_file(30 + 2 * number))
    with watching(home) as daemon:
        assert daemon.end() == (0, "")
    counts = told("scan", home=home)
    assert counts["files_seen"] == 60
    assert set(ledger(home).values()) == {"read"}


def test_a_folder_that_vanishes_is_told_of_and_its_return_is_noticed_by_itself(tmp_path: Path) -> None:
    with http_target() as target:
        home = home_of(tmp_path, target.url())
        with watching(home) as daemon:
            shutil.rmtree(exports(home))
            target.wait_for(1)
            until(lambda: "runa" in state_of(home).missing, "the state says so")
            new = tmp_path / "new"
            new.mkdir()
            (new / "run.fit").write_bytes(run_file(4))
            new.rename(exports(home))
            until(lambda: ledger(home).get("run.fit") == "read", "the new folder is read")
            (exports(home) / "later.fit").write_bytes(run_file(30))
            until(lambda: ledger(home).get("later.fit") == "read", "and heard of")
            assert daemon.end() == (0, "")


def test_a_roster_edit_is_taken_up_and_a_bad_one_is_told_and_changes_nothing(tmp_path: Path) -> None:
    with http_target() as target:
        home = home_of(tmp_path, "json://127.0.0.1:9/")
        roster = home / "roster.toml"
        with watching(home) as daemon:
            good = roster.read_text().replace("json://127.0.0.1:9/", target.url())
            roster.write_text(good)
            until(lambda: "roster_changed" in Home(home).log.read_text(), "the edit is taken up")
            roster.write_text(good.replace("hr_max = 188", "hr_max = 18"))
            target.wait_for(1)
            assert "hr_max" in target.accepted[0].body
            until(lambda: "hr_max" in (state_of(home).roster_error or ""), "the state says so")
            (exports(home) / "run.fit").write_bytes(run_file(4))
            target.wait_for(2)
            roster.write_text(good)
            daemon.process.send_signal(signal.SIGHUP)
            until(lambda: state_of(home).roster_error is None, "the mistake is taken back")
            assert daemon.end() == (0, "")
        assert len(target.received) == 2


def test_an_edit_of_the_timezone_judges_all_days_anew_as_a_clean_run_would_and_tells_nothing_again(
    tmp_path: Path,
) -> None:
    with http_target() as target:
        home = home_of(tmp_path, target.url())
        today = f"{datetime.now(UTC):%Y-%m-%d}"
        told_in = exports(home) / "told.checkin.json"
        told_in.write_text(json.dumps([{"date": f"{today}T00:20", "soreness": 2}, {"date": today, "pain": 0}]))
        (exports(home) / "run.fit").write_bytes(run_file(4))
        with watching(home) as daemon:
            until(lambda: set(ledger(home).values()) == {"read"} and len(ledger(home)) == 2, "both are read")
            target.wait_for(1)
            before = moments_told(home)
            roster = home / "roster.toml"
            roster.write_text(roster.read_text().replace('"UTC"', '"Pacific/Auckland"'))
            until(lambda: moments_told(home) != before, "the check-ins are read under the new zone")
            assert daemon.end() == (0, "")
        zone = ZoneInfo("Pacific/Auckland")
        told_at = datetime.fromisoformat(f"{today}T00:20").replace(tzinfo=zone)
        assert moments_told(home) == [told_at.timestamp(), told_at.replace(hour=12, minute=0).timestamp()]
        found = findings(home)
        assert found == clean_run(home, tmp_path / "clean", target)
        [run] = [one for one in told("findings", home=home) if one["rule"] == "no_running"]
        assert run["date"] == f"{datetime.fromisoformat(run['session_start']).astimezone(zone):%Y-%m-%d}"
        assert max(Counter(told_by_journal(home)).values()) == 1
        assert sum("a run of" in title.lower() for title, _ in hooked(target)) == 1


def moments_told(home: Path) -> list[float]:
    """When the check-ins were told, in seconds since 1970."""
    with Store(home / "fallow.duckdb").reading() as con:
        return [at for (at,) in con.execute("SELECT ordering FROM checkin ORDER BY ordering").fetchall()]


def test_odd_names_and_odd_things_cost_only_themselves(tmp_path: Path) -> None:
    with http_target() as target:
        home = home_of(tmp_path, target.url())
        folder = exports(home)
        with watching(home) as daemon:
            os.mkfifo(folder / "pipe.fit")
            (folder / "link.fit").symlink_to("/dev/zero")
            (folder / "folder.fit").mkdir()
            (folder / "notes.docx").write_bytes(b"x")
            (folder / "two\nlines \x1b[31m<b>.fit").write_bytes(run_file(50))
            (folder / os.fsdecode(b"\xff\xfe.fit")).write_bytes(run_file(40))
            (folder / ("n" * 251 + ".fit")).write_bytes(run_file(30))
            (folder / "empty.fit").touch()
            (folder / "run.fit").write_bytes(run_file(4))
            until(lambda: list(ledger(home).values()).count("read") == 4, "all four runs are read")
            until(lambda: len(ledger(home)) == 9, "and the rest is seen")
            assert daemon.end() == (0, "")
        states = ledger(home)
        assert {states[name] for name in ("pipe.fit", "link.fit", "folder.fit")} == {"unreadable"}
        assert states["notes.docx"] == "ignored"
        assert states["empty.fit"] == "waiting"


def test_every_command_that_reads_works_while_it_runs_and_writes(tmp_path: Path) -> None:
    home = home_of(tmp_path, "json://127.0.0.1:9/")
    with watching(home) as daemon:
        for number in range(20):
            (exports(home) / f"{number}.fit").write_bytes(run_file(30 + 2 * number, minutes=10))
        for command in (("status",), ("findings",), ("intake",), ("outbox",)):
            told(*command, home=home)
        until(lambda: list(ledger(home).values()) == ["read"] * 20, "all are read")
        assert daemon.end() == (0, "")


def test_no_name_no_path_no_secret_and_no_value_reaches_log_state_or_terminal(tmp_path: Path) -> None:
    secret, name, file = "s3cr3tt0ken", "Gunnhild Aasen", "gunnhild-evening.fit"
    with http_target(answer=500) as target:
        home = home_of(tmp_path, target.url(rest=f"/{secret}", user="ida:pa55w0rd@"), name=name)
        daemon = Daemon(home)
        assert daemon.ready() == "watching 1 folders"
        (exports(home) / file).write_bytes(run_file(4))
        (exports(home) / ("broken-" + file)).write_bytes(b"not a recording")
        until(lambda: target.received, "a message was tried")
        status, errors = daemon.end()
        assert (status, errors) == (0, "")
        said = Home(home).log.read_text() + Home(home).state.read_text()
    assert "ready" in said
    for planted in (secret, "pa55w0rd", name, "Gunnhild", file, "exports"):
        assert planted not in said
    numbers = re.findall(r"\d+", re.sub(r"\d{4}-\d\d-\d\dT[\d:.]+|\"pid\": \d+|seconds=[\d.]+", "", said))
    assert not {str(target.port), "132"} & set(numbers), "a moment may hold any digits, a value of its own may not"


COMMANDS = (
    *(("status",), ("findings",), ("intake",), ("outbox",), ("outbox", "--retry"), ("plan", "runa"), ("today", "runa")),
    *(("replay",), ("doctor",), ("board",), ("scan",), ("rebuild", "--yes")),
)


def test_a_planted_secret_is_in_nothing_that_a_command_says_and_in_no_file_but_the_roster(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """Also past Python, as libraries in C say things: the command is run here, where all of it is caught."""
    secret, password = "s3cr3tt0ken", "pa55w0rd"
    with http_target(answer=500) as target:
        home = home_of(tmp_path, target.url(rest=f"/{secret}?key={secret}", user=f"ida:{password}@"))
        with watching(home) as daemon:
            (exports(home) / "run.fit").write_bytes(run_file(4))
            (exports(home) / "broken.fit").write_bytes(b"not a recording")
            until(lambda: target.received, "a message was tried")
            [run] = [one for one in told("findings", home=home) if one["rule"] == "no_running"]
            said = ""
            for command in (("explain", run["id"]), *COMMANDS):
                done = fallow(*command, home=home)
                said += done.out + done.err
                assert "Traceback" not in said, command
            said += "".join(capfd.readouterr())
            roster = home / "roster.toml"
            good = roster.read_text()
            roster.write_text(good.replace(f"/{secret}?", f"/{secret} ?").replace("json://", "jsno://"))
            until(lambda: state_of(home).roster_error is not None, "the bad edit is noticed")
            said += fallow("status", home=home).err + str(state_of(home))
            roster.unlink()
            status, errors = daemon.end()
            assert status == 0
            assert any("The roster was edited and is not valid" in line for line in daemon.said)
            said += "\n".join(daemon.said)
        files = {path: path.read_bytes() for path in home.rglob("*") if path.is_file()}
    assert f"127.0.0.1:{target.port}" in said, "the channel itself is named"
    assert "the last error: answered 500" in " ".join(said.split()), "status names a channel in trouble"
    for planted in (secret, password):
        assert planted not in said + errors
        assert not [path.name for path, content in files.items() if planted.encode() in content]


def test_status_says_whether_a_daemon_runs_since_when_and_when_it_last_looked(tmp_path: Path) -> None:
    home = home_of(tmp_path, "json://127.0.0.1:9/")
    assert "daemon: not running" in fallow("status", home=home).out
    with watching(home) as daemon:
        until(lambda: state_of(home).last_pass_at, "it has looked")
        before = state_of(home)
        said = " ".join(fallow("status", home=home).out.split())
        after = state_of(home)  # it may have looked again meanwhile
        assert f"daemon: running since {before.started_at.astimezone():%Y-%m-%d %H:%M}" in said
        looks = [one.last_pass_at.astimezone() for one in (before, after) if one.last_pass_at]
        assert any(f"last pass {look:%Y-%m-%d %H:%M}" in said for look in looks)
        assert daemon.end() == (0, "")
    assert "daemon: not running" in fallow("status", home=home).out


def test_a_service_manager_hears_ready_alive_and_stopping(tmp_path: Path) -> None:
    home = home_of(tmp_path, "json://127.0.0.1:9/")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(tmp_path / "notify"))
        manager.settimeout(PATIENCE_SECONDS)
        heard: list[bytes] = []
        alive = threading.Event()

        def listen() -> None:
            while heard[-1:] != [b"STOPPING=1"]:
                heard.append(manager.recv(200))
                if heard[-1] == b"WATCHDOG=1":
                    alive.set()

        listener = threading.Thread(target=listen)
        listener.start()
        with watching(home, {"NOTIFY_SOCKET": str(tmp_path / "notify"), "WATCHDOG_USEC": "600000"}) as daemon:
            assert alive.wait(PATIENCE_SECONDS)
            assert daemon.end() == (0, "")
        listener.join(PATIENCE_SECONDS)
    assert heard[0] == b"READY=1\nSTATUS=watching 1 folders"
    assert heard[-1] == b"STOPPING=1"
