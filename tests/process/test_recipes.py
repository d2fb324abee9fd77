"""The README's recipes for getting files into the folder, each carried out as it stands there."""

from __future__ import annotations

import http.server
import mailbox
import os
import re
import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator
from email.message import EmailMessage
from functools import partial
from pathlib import Path

import pytest

from tests.homes import fallow, make_home, run_on
from tests.waiting import PATIENCE_SECONDS

README = (Path(__file__).parent.parent.parent / "README.md").read_text("utf-8")
RECIPES = re.findall(r"```sh\n(.*?)```", README.partition("### Recipes")[2].partition("\n## ")[0], re.DOTALL)
RUN = run_on(5, 18, 25)

pytestmark = pytest.mark.skipif(os.name != "posix", reason="the recipes are for a POSIX shell")


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return make_home(tmp_path / "home", files={})


def carried_out(word: str, home: Path, **places: str) -> int:
    """Run the one recipe with this word in it; how many sessions a scan finds then."""
    (recipe,) = [one for one in RECIPES if word in one]
    exports = home / "exports/runa"
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    environment = {**os.environ, "PATH": path, "EXPORTS": str(exports), **places}
    subprocess.run(["sh", "-eu", "-c", recipe], env=environment, check=True, timeout=PATIENCE_SECONDS)
    subprocess.run(["sh", "-eu", "-c", recipe], env=environment, check=True, timeout=PATIENCE_SECONDS)
    sessions = fallow("scan", "--json", "--as-of", "2026-10-10T12:00", home=home).json()["sessions"]
    assert isinstance(sessions, int)
    return sessions


def test_a_watch_as_a_disk_is_copied_from_and_left_as_it_is(tmp_path: Path, home: Path) -> None:
    activity = tmp_path / "WATCH/ACTIVITY/1009 run.FIT"
    activity.parent.mkdir(parents=True)
    activity.write_bytes(RUN)
    assert carried_out("$WATCH", home, WATCH=str(tmp_path / "WATCH")) == 1
    assert activity.read_bytes() == RUN


def test_attachments_of_mail_land_once_and_only_exports_do(tmp_path: Path, home: Path) -> None:
    box = mailbox.Maildir(tmp_path / "mail", create=True)
    message = EmailMessage()
    message["Subject"] = "my run"
    message.set_content("see there")
    message.add_attachment(RUN, maintype="application", subtype="octet-stream", filename="../run.fit")
    message.add_attachment(b"MZ", maintype="application", subtype="octet-stream", filename="setup.exe")
    box.add(message)
    assert carried_out("$MAILDIR", home, MAILDIR=str(tmp_path / "mail")) == 1
    assert [path.name for path in (home / "exports/runa").iterdir()] == ["run.fit"]


@pytest.fixture
def url(tmp_path: Path) -> Iterator[str]:
    (tmp_path / "served").mkdir()
    (tmp_path / "served/run").write_bytes(RUN)

    class Quiet(http.server.SimpleHTTPRequestHandler):
        def log_message(self, *_: object) -> None:
            pass

    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=tmp_path / "served")) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}/run"
        server.shutdown()


@pytest.mark.skipif(shutil.which("curl") is None, reason="curl is not installed")
def test_a_download_is_renamed_into_place(home: Path, url: str) -> None:
    assert carried_out("curl", home, URL=url) == 1


def test_there_is_a_test_for_each_recipe() -> None:
    assert len(RECIPES) == 3
