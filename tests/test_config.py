"""The units that run the daemon: what they promise stands in them, and nothing of the machine they were written on."""

import plistlib
import re
import shlex
import subprocess
from pathlib import Path

import pytest

CONFIG = Path(__file__).parent.parent / "config"


def unit() -> dict[str, list[str]]:
    """Key -> values of the systemd unit."""
    found: dict[str, list[str]] = {}
    for line in (CONFIG / "fallow.service").read_text("utf-8").splitlines():
        if "=" in line and not line.startswith("#"):
            key, _, value = line.partition("=")
            found.setdefault(key, []).append(value)
    return found


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("Type", "notify"),
        ("NoNewPrivileges", "yes"),
        ("ProtectSystem", "strict"),
        ("ProtectHome", "read-only"),
        ("ReadWritePaths", "%h/.local/share/fallow"),
        ("PrivateTmp", "yes"),
        ("PrivateUsers", "yes"),
        ("RestartPreventExitStatus", "2"),
        ("Restart", "on-failure"),
        ("UMask", "0077"),
        ("WantedBy", "default.target"),
    ],
)
def test_the_systemd_unit_is_hardened_and_leaves_a_wrong_roster_alone(key: str, value: str) -> None:
    assert unit()[key] == [value]


def test_the_systemd_unit_is_watched_and_gives_a_long_pass_time_to_end() -> None:
    found = unit()
    assert found["WatchdogSec"] == ["2min"]
    assert found["TimeoutStopSec"] == ["1min"]
    assert found["ExecStart"] == ["%h/.local/bin/fallow watch"]
    assert found["ExecReload"] == ["/bin/kill -HUP $MAINPID"]


def test_nothing_in_the_systemd_unit_drops_capabilities_which_a_user_s_manager_may_not() -> None:
    dropping = {"CapabilityBoundingSet", "PrivateDevices", "ProtectClock", "ProtectKernelLogs", "ProtectKernelModules"}
    assert not dropping & set(unit())


def test_the_launchd_agent_starts_the_daemon_and_starts_it_again_when_it_fails() -> None:
    agent = plistlib.loads((CONFIG / "fallow.plist").read_bytes())
    assert agent["Label"] == "fallow"
    assert agent["RunAtLoad"] is True
    assert agent["KeepAlive"] == {"SuccessfulExit": False}
    assert agent["Umask"] == 0o077


def test_the_launchd_agent_s_command_passes_the_secrets_on_and_becomes_the_daemon(tmp_path: Path) -> None:
    command = plistlib.loads((CONFIG / "fallow.plist").read_bytes())["ProgramArguments"]
    program = tmp_path / ".local" / "bin" / "fallow"
    program.parent.mkdir(parents=True)
    program.write_text('#!/bin/sh\necho "$1 $FALLOW_COACH_URL"\n')
    program.chmod(0o755)

    def said() -> str:
        done = subprocess.run(command, env={"HOME": str(tmp_path)}, capture_output=True, text=True, check=True)
        return done.stdout.strip()

    assert said() == "watch"
    secrets = tmp_path / ".config" / "fallow" / "secrets.env"
    secrets.parent.mkdir(parents=True)
    secrets.write_text("FALLOW_COACH_URL=" + shlex.quote("json://host/a b") + "\n")
    assert said() == "watch json://host/a b"


def test_each_way_of_running_it_says_how_to_install_it_in_one_command() -> None:
    assert "systemctl --user enable --now fallow" in (CONFIG / "fallow.service").read_text("utf-8")
    assert "launchctl bootstrap gui/$(id -u)" in (CONFIG / "fallow.plist").read_text("utf-8")
    assert "Register-ScheduledTask -TaskName fallow" in (CONFIG / "windows.md").read_text("utf-8")


def test_the_unit_of_the_pages_writes_what_the_athlete_sends_and_nothing_else() -> None:
    text = (CONFIG / "fallow-pages.service").read_text("utf-8")
    written = re.findall(r"^#?ReadWritePaths=(.*)$", text, re.MULTILINE)
    assert written == ["%h/.local/share/fallow", "%h/exports/runa/received %h/exports/runa/checkins"]
    for line in ("ProtectHome=read-only", "ProtectSystem=strict", "NoNewPrivileges=yes", "UMask=0077"):
        assert f"\n{line}\n" in text
    assert "systemctl --user enable --now fallow-pages" in text


@pytest.mark.parametrize("name", ["page.nginx.conf", "page.Caddyfile"])
def test_the_proxies_lead_to_where_the_pages_listen_and_log_no_address(name: str) -> None:
    text = (CONFIG / name).read_text("utf-8")
    assert "127.0.0.1:8722" in text
    assert "fallow.example.org" in text
    assert "access_log off" in text or "log {" not in text


@pytest.mark.parametrize(
    "name",
    ["fallow.service", "fallow-pages.service", "fallow.plist", "windows.md", "page.nginx.conf", "page.Caddyfile"],
)
def test_nothing_of_one_machine_stands_in_them(name: str) -> None:
    text = (CONFIG / name).read_text("utf-8")
    assert not re.search(r"/home/|/Users/|/root|/work/|C:\\Users", text)
