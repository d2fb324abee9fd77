"""The endings of the files that the program takes up; light enough for whoever only looks at names."""

from __future__ import annotations

ACTIVITY_ENDINGS = (".fit", ".tcx", ".gpx")
ENDINGS = (
    *ACTIVITY_ENDINGS,
    *(ending + ".gz" for ending in ACTIVITY_ENDINGS),
    ".zip",
    ".csv",
    ".json",
    ".checkin.json",
    ".txt",
    ".rr",
)
"""Endings that the program takes up, in lower case; every other file in a folder is none of its business."""
