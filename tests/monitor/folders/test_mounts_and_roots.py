"""Which folders can be heard of, and what becomes of one that vanishes."""

from pathlib import Path

import pytest

from monitor import words
from monitor.folders.events import Mount, mount_of, parse_mount_command, parse_mountinfo
from monitor.folders.listing import Roots, RootState
from monitor.values import Listing, Seen

MOUNTINFO = r"""22 1 8:1 / / rw,relatime shared:1 - ext4 /dev/sda1 rw
35 22 0:30 / /home/ida/my\040share rw,relatime shared:9 - cifs //server/share rw,vers=3.0
36 22 0:31 / /home/ida/remote rw,nosuid - fuse.sshfs ida@server: rw
37 22 8:2 / /home/ida/stick rw - fuseblk /dev/sdb1 rw
38 35 8:3 / /home/ida/my\040share/local rw - xfs /dev/sdc1 rw
39 22 0:40 / /srv/nfs rw shared:2 master:1 - nfs4 server:/export rw
40 22 0:41 / /mnt/c rw - 9p drvfs rw
"""


@pytest.mark.parametrize(
    ("folder", "kind", "tells"),
    [
        ("/home/ida/exports", "ext4", True),
        ("/home/ida/my share/exports/runa", "cifs", False),
        ("/home/ida/my share/local/runa", "xfs", True),
        ("/home/ida/my sharex", "ext4", True),
        ("/home/ida/remote", "fuse.sshfs", False),
        ("/home/ida/stick/x", "fuseblk", True),
        ("/srv/nfs/runa", "nfs4", False),
        ("/mnt/c/exports", "9p", False),
    ],
)
def test_the_innermost_mount_of_a_folder_decides(folder: str, kind: str, tells: bool) -> None:
    mount = mount_of(Path(folder), parse_mountinfo(MOUNTINFO))
    assert mount == Mount(kind)
    assert mount.tells is tells


def test_the_mount_command_of_other_systems_is_understood() -> None:
    said = "/dev/disk3s1s1 on / (apfs, sealed, local)\n//ida@server/sh on /Volumes/Team share (smbfs, nodev)\n"
    table = parse_mount_command(said)
    assert table == {"/": "apfs", "/Volumes/Team share": "smbfs"}
    assert not mount_of(Path("/Volumes/Team share/runa"), table).tells


def test_where_the_system_does_not_say_events_are_tried() -> None:
    assert mount_of(Path("/anywhere"), {}).tells


def test_this_machine_says_what_a_folder_lies_on(tmp_path: Path) -> None:
    assert mount_of(tmp_path).kind != "unknown"


def there(inode: int) -> Listing:
    return Listing(root=(1, inode))


def test_a_root_that_goes_and_comes_back_is_noted_once_each() -> None:
    roots = Roots()
    assert roots.note("runa", there(1)) is RootState.SAME
    assert roots.note("runa", Listing(missing="the folder is not there")) is RootState.GONE
    assert roots.note("runa", Listing(missing="the folder is not there")) is RootState.SAME
    assert roots.missing == {"runa": "the folder is not there"}
    assert roots.note("runa", there(1)) is RootState.BACK
    assert roots.missing == {}


def test_another_folder_under_the_same_path_is_noticed_without_a_gap() -> None:
    roots = Roots()
    roots.note("runa", there(1))
    assert roots.note("runa", there(2)) is RootState.ANOTHER
    assert roots.note("runa", there(2)) is RootState.SAME


def test_a_root_missing_from_the_start_is_gone_then_back() -> None:
    roots = Roots()
    assert roots.note("runa", Listing(missing="the folder is not there")) is RootState.GONE
    assert roots.note("runa", there(1)) is RootState.BACK
    roots.drop("runa")
    assert roots.note("runa", there(2)) is RootState.SAME


def holding(inode: int, *names: str) -> Listing:
    return Listing(tuple(Seen(name, 1, 0, 1, inode) for name in names), root=(1, inode))


def test_an_empty_folder_in_the_place_of_one_with_files_is_as_good_as_none() -> None:
    roots = Roots()
    roots.note("runa", holding(1, "a.fit"), whole=True)
    assert roots.note("runa", there(2)) is RootState.ANOTHER  # what is in it is not known yet
    assert roots.note("runa", there(2), whole=True) is RootState.GONE
    assert roots.missing == {"runa": words.files.ANOTHER_EMPTY_FOLDER}
    assert roots.note("runa", there(2)) is RootState.SAME
    assert roots.note("runa", there(2), whole=True) is RootState.SAME
    assert roots.note("runa", there(1)) is RootState.BACK
    assert roots.missing == {}


def test_files_in_the_new_folder_end_its_being_missing() -> None:
    roots = Roots(held={"runa": (1, 1)})
    assert roots.note("runa", there(2), whole=True) is RootState.GONE
    assert roots.note("runa", holding(2, "b.fit")) is RootState.BACK
    assert roots.note("runa", there(2), whole=True) is RootState.SAME, "now this one was emptied"


def test_a_folder_emptied_on_purpose_is_no_loss_whatever_comes_in_its_place_later() -> None:
    roots = Roots()
    roots.note("runa", holding(1, "a.fit"), whole=True)
    assert roots.note("runa", there(1), whole=True) is RootState.SAME
    assert roots.note("runa", there(2), whole=True) is RootState.ANOTHER
    assert roots.missing == {}


def test_a_folder_that_never_held_anything_may_be_replaced() -> None:
    roots = Roots()
    roots.note("runa", there(1), whole=True)
    assert roots.note("runa", there(2), whole=True) is RootState.ANOTHER
