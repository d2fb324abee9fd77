"""Whether changes in a folder can be heard of at all: decided by the kind of file system it is mounted from."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

MOUNTINFO = Path("/proc/self/mountinfo")
_MUTE = frozenset(
    {
        *("nfs", "nfs4", "cifs", "smb3", "smbfs", "smb", "afs", "afpfs", "webdav", "davfs", "ncpfs", "coda"),
        *("9p", "virtiofs", "vboxsf", "vmhgfs", "prl_fs", "drvfs", "fakeowner", "osxfs", "grpcfuse"),
        *("ceph", "glusterfs", "lustre", "gpfs", "beegfs", "ocfs2", "gfs2", "macfuse", "osxfuse"),
    }
)
"""Other machines change these file systems (or a host outside of this virtual machine), and this kernel is not told."""
_TELLING_FUSE = frozenset({"fuseblk", "fuse.mergerfs", "fuse.bindfs", "fuse.gocryptfs", "fuse.encfs", "fuse.ntfs-3g"})


@dataclass(frozen=True, slots=True)
class Mount:
    """The file system that a folder lies on; `tells` when its changes come as events."""

    kind: str

    @property
    def tells(self) -> bool:
        if self.kind.startswith("fuse") and self.kind not in _TELLING_FUSE:
            return False
        return self.kind not in _MUTE


def mount_of(folder: Path, table: Mapping[str, str] | None = None) -> Mount:
    """The mount of a folder, by its path alone: asking a dead share would hang. Unknown kinds are taken to tell."""
    if sys.platform == "win32":
        return Mount(_windows_kind(folder))
    mounts = mount_table() if table is None else table
    mount = _innermost(os.path.abspath(folder), mounts)  # noqa: PTH100 - resolving would touch the mount
    return mount if not mount.tells or table is not None else _innermost(os.path.realpath(folder), mounts)


def _innermost(folder: str, mounts: Mapping[str, str]) -> Mount:
    path = PurePosixPath(folder)
    for place in (path, *path.parents):
        if str(place) in mounts:
            return Mount(mounts[str(place)])
    return Mount("unknown")


def mount_table() -> dict[str, str]:
    """Mount point -> kind of file system; empty where the system does not say."""
    if MOUNTINFO.exists():
        return parse_mountinfo(MOUNTINFO.read_text("utf-8", "surrogateescape"))
    try:
        said = subprocess.run(["/sbin/mount"], capture_output=True, timeout=10, check=True).stdout
    except (OSError, subprocess.SubprocessError):
        return {}
    return parse_mount_command(said.decode("utf-8", "surrogateescape"))


def parse_mountinfo(text: str) -> dict[str, str]:
    """Linux: `36 35 98:0 /root /mount/point options - kind source options`, later lines lying over earlier ones."""
    mounts: dict[str, str] = {}
    for line in text.splitlines():
        before, dash, after = line.partition(" - ")
        fields = before.split(" ")
        if dash and len(fields) > 4:
            point = re.sub(r"\\([0-7]{3})", lambda octal: chr(int(octal[1], 8)), fields[4])
            mounts[point] = after.split(" ")[0]
    return mounts


def parse_mount_command(text: str) -> dict[str, str]:
    """macOS and BSD: `//ida@server/share on /Volumes/share (smbfs, nodev, nosuid)`."""
    return {found[1]: found[2] for found in re.finditer(r"^.* on (/.*) \(([a-z0-9]+)", text, re.MULTILINE)}


def _windows_kind(folder: Path) -> str:
    if sys.platform != "win32":
        return "unknown"
    import ctypes  # noqa: PLC0415 - only there

    drive = folder.absolute().drive
    remote = drive.startswith("\\\\") or ctypes.windll.kernel32.GetDriveTypeW(drive + "\\") == 4  # DRIVE_REMOTE
    return "smb" if remote else "local"
