"""Names that are left alone without a word, and names that only look like it."""

import pytest

from monitor.folders.listing import left_alone

LEFT_ALONE = [
    ".hidden.fit",
    "~$notes.csv",
    "~syncthing~run.fit.tmp",
    ".syncthing.run.fit.tmp",
    "run.fit.part",
    "run.fit.partial",
    "RUN.FIT.PART",
    "run.fit.tmp",
    "run.fit.crdownload",
    "Unconfirmed 4711.crdownload",
    "run.fit.download",
    "run.fit.filepart",
    "run.fit.icloud",
    "run.fit~",
    "run.fit.sb-1a2b3c4d-Xyz123",
    "#run.csv#",
    ".run.csv.swp",
    "run.fit@SynoEAStream",
    ".stfolder",
    ".stversions",
    ".dropbox.cache",
    ".Trash-1000",
    "@eaDir",
    "__MACOSX",
    "$RECYCLE.BIN",
    "System Volume Information",
    "lost+found",
    "#recycle",
    "desktop.ini",
    "Thumbs.db",
]
TAKEN_UP = [
    "run.fit",
    "run (1).fit",
    "run.sync-conflict-20261004-134700-ABCDEFG.fit",
    "run (Runa's conflicted copy 2026-10-04).fit",
    "run-partial.fit",
    "part.fit",
    "tmp.gpx",
    "download.csv",
    "run~1.fit",
    "#1 long run.fit",
    "recycle",
    "löpning\n<b>.fit",
]


@pytest.mark.parametrize("name", LEFT_ALONE)
def test_hidden_partial_and_litter_names_are_left_alone(name: str) -> None:
    assert left_alone(name)


@pytest.mark.parametrize("name", TAKEN_UP)
def test_whole_files_and_conflict_copies_are_taken_up(name: str) -> None:
    assert not left_alone(name)
