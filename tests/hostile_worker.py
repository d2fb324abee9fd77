"""A worker whose decoder does what the file tells it to: hang, spin, swell, crash, print, count."""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path

from monitor.intake import worker_main
from monitor.intake.reading import ReadJob, ReadResult
from monitor.values import FileFacts

held: list[bytearray] = []


def obey(job: ReadJob, most_rows: int | None = None) -> ReadResult:  # noqa: PLR0912 - one order after another
    path = Path(job.root, job.relative)
    match path.read_text("ascii").split():
        case ["hang"]:
            time.sleep(600)
        case ["hang", "deaf"]:
            signal.signal(signal.SIGALRM, signal.SIG_IGN)
            time.sleep(600)
        case ["spin"]:
            while True:
                pass
        case ["swell"]:
            while True:
                held.append(bytearray(1 << 20))
        case ["swell", "natively"]:
            os.write(2, b"memory allocation of 268435456 bytes failed\n")
            os.abort()
        case ["crash"]:
            os.write(2, b"thread '<unnamed>' panicked at src/lib.rs\n")
            os.abort()
        case ["leave"]:
            os._exit(0)
        case ["print"]:
            os.write(1, b"not a frame\n")
            print("not a frame either")
            os.write(2, b"nobody wants to read this\n")
        case ["killed", "once"] if not path.with_suffix(".killed").exists():
            path.with_suffix(".killed").touch()
            os.kill(os.getpid(), signal.SIGKILL)
        case ["killed", "always"]:
            os.kill(os.getpid(), signal.SIGKILL)
        case ["tell", name]:
            return ReadResult("", 0, None, os.environ.get(name))
    return ReadResult("", os.getpid(), FileFacts("test"), None)


if __name__ == "__main__":
    worker_main.read_path = obey
    worker_main.NEEDED_BEFORE = ()
    sys.exit(worker_main.main())
