"""Makes the sample exports again, byte for byte: `python -m sample_exports.make` from the root of a checkout.

Needs the test extra (`pip install -e '.[test]'`): the FIT files are written by the official SDK's encoder. Give a
folder as argument to write them elsewhere.
"""

from __future__ import annotations

import gzip
import json
import sys
from pathlib import Path

from sample_exports.body import checkins, mat_night, nights_csv
from sample_exports.fit_writer import fit_bytes
from sample_exports.history import race, training
from sample_exports.outing import saved
from sample_exports.story import after
from sample_exports.xml_writer import gpx_bytes, tcx_bytes

HERE = Path(__file__).parent / "exports" / "runa"
COPIED = "activities/2026-10-13_ride.fit"
BROKEN_OFF = ("activities/2026-10-16_ride.fit", "activities/2026-10-16_ride_sync.fit", 61)


def files() -> dict[str, bytes]:
    """Every file of the athlete's folder by its path there."""
    out: dict[str, bytes] = {}
    for outing in [*training(), race(), *after()]:
        recording = saved(outing)
        if outing.path.endswith(".tcx"):
            out[outing.path] = tcx_bytes(recording)
        elif outing.path.endswith(".gpx"):
            out[outing.path] = gpx_bytes(recording)
        elif outing.path.endswith(".gz"):
            out[outing.path] = gzip.compress(fit_bytes(recording), 9, mtime=0)
        else:
            out[outing.path] = fit_bytes(recording)
    out["nights/nights.csv"] = nights_csv().encode()
    out["nights/2026-10-09_mat.json"] = _json(mat_night())
    for day, said in checkins().items():
        out[f"checkins/{day}.checkin.json"] = _json({"date": f"{day}", **said})
    out[COPIED.replace(".fit", " (1).fit")] = out[COPIED]
    whole, name, length = BROKEN_OFF
    out[name] = out[whole][:length]
    return out


def _json(value: object) -> bytes:
    return (json.dumps(value, indent=1, ensure_ascii=False) + "\n").encode()


def write(folder: Path) -> int:
    """Write all files below a folder; bytes written."""
    made = files()
    for path, content in made.items():
        target = folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    return sum(len(content) for content in made.values())


if __name__ == "__main__":
    place = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE
    print(f"{place}: {write(place):,} bytes")
