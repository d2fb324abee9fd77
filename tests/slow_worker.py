"""A worker that reads as the real one does, but holds files named slow until a file `go` lies beside the folder."""

from __future__ import annotations

import sys
import time
from pathlib import Path

from monitor.intake import worker_main
from monitor.intake.reading import ReadJob, ReadResult, read_path

LOOK_SECONDS = 0.02


def held(job: ReadJob, most_rows: int | None = None) -> ReadResult:
    while job.relative.startswith("slow") and not Path(job.root.parent, "go").exists():
        time.sleep(LOOK_SECONDS)
    return read_path(job, most_rows)


if __name__ == "__main__":
    worker_main.read_path = held
    sys.exit(worker_main.main())
