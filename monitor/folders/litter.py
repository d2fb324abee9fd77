"""Names that are left alone without a word: hidden, partial and temporary ones, and the litter of sync tools."""

from __future__ import annotations

import re

PARTIAL_ENDINGS = (".part", ".partial", ".crdownload", ".download", ".opdownload", ".filepart", ".tmp")
"""Endings that a download or copy adds to the final name until it is whole."""

_ENDINGS = (
    *PARTIAL_ENDINGS,
    *(".temp", ".gdownload", ".gstmp", ".aria2", ".icloud", ".!ut", ".!qb", ".!sync", ".bts", ".bt!", ".dtapart"),
    *(".swp", ".swo", ".swx", ".lck", ".rsls", ".rslf", "~"),
    *("@synoeastream", "@synoresource"),
)
_NAMES = frozenset({"desktop.ini", "thumbs.db", "ehthumbs.db", "icon\r"})
_FOLDERS = frozenset(
    {
        *("__macosx", "$recycle.bin", "recycler", "system volume information", "lost+found"),
        *("@eadir", "#recycle", "#snapshot", "@recycle", "@recently-snapshot", "@sharebin", "@tmp"),
        *("_gsdata_", "network trash folder", "temporary items", "trashbox"),
    }
)
_REPLACED_IN_PLACE = re.compile(r"\.sb-[0-9a-f]{8}-[0-9a-z]{4,8}$|^#.*#$")


def left_alone(name: str) -> bool:
    """Whether a file or folder of this name is passed over; conflict copies are not, they are whole files."""
    folded = name.casefold()
    return (
        folded.startswith((".", "~"))
        or folded.endswith(_ENDINGS)
        or folded in _NAMES
        or folded in _FOLDERS
        or _REPLACED_IN_PLACE.search(folded) is not None
    )
