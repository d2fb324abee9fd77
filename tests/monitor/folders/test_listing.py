"""A look at a folder: what is taken up, what is refused and why, what is passed over."""

import os
import socket
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.folders.listing import look, look_at, root_identity
from monitor.values import ENDINGS, Listing, as_name, as_text

ROOT_MAY_READ_ALL = hasattr(os, "geteuid") and os.geteuid() == 0


def names(listing: Listing) -> list[str]:
    return [seen.relative for seen in listing.files]


def refusals(listing: Listing) -> dict[str, str]:
    return {refused.relative: refused.reason for refused in listing.refused}


def write(path: Path, content: bytes = b"x") -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    return path


def test_files_of_all_subfolders_are_found_with_size_time_and_inode(tmp_path: Path) -> None:
    write(tmp_path / "run.fit", b"abc")
    write(tmp_path / "2026" / "10" / "ride.FIT.GZ", b"de")
    listing = look(tmp_path)
    assert names(listing) == ["2026/10/ride.FIT.GZ", "run.fit"]
    status = (tmp_path / "run.fit").stat()
    run = listing.files[1]
    assert (run.size, run.mtime_ns, run.device, run.inode) == (3, status.st_mtime_ns, status.st_dev, status.st_ino)
    assert listing.root == root_identity(tmp_path)
    assert listing.missing is None


@pytest.mark.parametrize("ending", ENDINGS)
def test_every_ending_that_intake_reads_is_taken_up(tmp_path: Path, ending: str) -> None:
    write(tmp_path / ("a" + ending))
    assert names(look(tmp_path)) == ["a" + ending]


def test_a_file_of_another_kind_is_ignored_and_said_once(tmp_path: Path) -> None:
    write(tmp_path / "notes.docx")
    write(tmp_path / "photo")
    listing = look(tmp_path)
    assert not listing.files
    assert {(one.relative, one.state) for one in listing.refused} == {("notes.docx", "ignored"), ("photo", "ignored")}
    assert set(refusals(listing).values()) == {"not a kind of file that fallow reads"}


def test_litter_and_all_below_litter_folders_is_passed_over_without_a_word(tmp_path: Path) -> None:
    for name in (".hidden.fit", "run.fit.part", "@eaDir/run.fit", ".stversions/a/run.fit", "__MACOSX/._run.fit"):
        write(tmp_path / name)
    assert look(tmp_path) == Listing(root=root_identity(tmp_path))


def test_links_are_never_followed_wherever_they_lead(tmp_path: Path) -> None:
    outside = write(tmp_path / "outside" / "secret.fit")
    root = tmp_path / "root"
    inside = write(root / "inside.fit")
    (root / "out.fit").symlink_to(outside)
    (root / "in.fit").symlink_to(inside)
    (root / "folder").symlink_to(outside.parent)
    (root / "loop").symlink_to(root)
    (root / "dangling.fit").symlink_to(root / "nothing")
    listing = look(root)
    assert names(listing) == ["inside.fit"]
    assert set(refusals(listing)) == {"out.fit", "in.fit", "folder", "loop", "dangling.fit"}
    assert all("symbolic link" in reason for reason in refusals(listing).values())


def test_a_root_that_is_itself_a_link_is_looked_into(tmp_path: Path) -> None:
    write(tmp_path / "real" / "run.fit")
    (tmp_path / "link").symlink_to(tmp_path / "real")
    assert names(look(tmp_path / "link")) == ["run.fit"]


def test_pipes_sockets_devices_and_folders_named_like_files_are_refused_by_what_they_are(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.fit")
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(str(tmp_path / "s.fit"))
        write(tmp_path / "folder.fit" / "inner.fit")
        listing = look(tmp_path)
    assert names(listing) == []
    reasons = refusals(listing)
    assert reasons["pipe.fit"].startswith("a pipe")
    assert reasons["s.fit"].startswith("a socket")
    assert reasons["folder.fit"].startswith("a folder named like a file")
    assert {refused.state for refused in listing.refused} == {"unreadable"}


@pytest.mark.skipif(ROOT_MAY_READ_ALL, reason="nothing is closed to this user")
def test_a_closed_subfolder_is_refused_and_the_rest_is_read(tmp_path: Path) -> None:
    write(tmp_path / "closed" / "a.fit")
    write(tmp_path / "open" / "b.fit")
    (tmp_path / "closed").chmod(0)
    try:
        listing = look(tmp_path)
    finally:
        (tmp_path / "closed").chmod(0o700)
    assert names(listing) == ["open/b.fit"]
    assert "permission denied" in refusals(listing)["closed"]


def test_a_missing_root_and_a_file_in_its_place_are_told_apart(tmp_path: Path) -> None:
    assert look(tmp_path / "gone") == Listing(missing="the folder is not there")
    write(tmp_path / "file")
    assert look(tmp_path / "file") == Listing(missing="is a file, not a folder")


def test_odd_names_are_kept_as_they_are(tmp_path: Path) -> None:
    odd = ["two\nlines.fit", "<script>.fit", "tab\t.csv", "ü" * 120 + ".fit", "a" * 251 + ".fit", " .fit", "'\";.fit"]
    for name in odd:
        write(tmp_path / name)
    assert set(names(look(tmp_path))) == set(odd)
    assert look_at(tmp_path, odd) == look(tmp_path)


def test_bytes_that_spell_nothing_are_kept_as_text_that_leads_back_to_the_file(tmp_path: Path) -> None:
    written = write(tmp_path / os.fsdecode(b"l\xf8p") / os.fsdecode(b"\xff\xfe.fit"))
    (relative,) = names(look(tmp_path))
    assert relative.encode()
    assert tmp_path / as_name(relative) == written
    assert names(look_at(tmp_path, [relative])) == [relative]
    assert names(look_at(tmp_path, [relative.split("/")[0]])) == [relative]


def test_a_name_that_would_not_lead_back_to_its_file_is_refused(tmp_path: Path) -> None:
    write(tmp_path / "\uf7ff.fit")
    assert refusals(look(tmp_path)) == {"\\uf7ff.fit": "a name with characters that are no text; rename the file"}


@given(st.binary(min_size=1).filter(lambda name: b"\0" not in name and b"/" not in name))
def test_the_text_of_a_name_leads_back_to_its_bytes_or_there_is_none(name: bytes) -> None:
    text = as_text(os.fsdecode(name))
    if text is None:
        assert b"\xef\x9e" in name or b"\xef\x9f" in name
    else:
        assert text.encode()
        assert os.fsencode(as_name(text)) == name


def test_a_tree_deeper_than_paths_can_be_long_ends_in_a_refusal(tmp_path: Path) -> None:
    here = os.open(tmp_path, os.O_RDONLY)
    try:
        for _ in range(25):
            os.mkdir("d" * 200, dir_fd=here)
            below = os.open("d" * 200, os.O_RDONLY, dir_fd=here)
            os.close(here)
            here = below
    finally:
        os.close(here)
    write(tmp_path / "run.fit")
    listing = look(tmp_path)
    assert names(listing) == ["run.fit"]
    assert any("too long" in refused.reason for refused in listing.refused)


def test_a_partial_sibling_is_noted_with_its_time(tmp_path: Path) -> None:
    write(tmp_path / "run.fit", b"")
    part = write(tmp_path / "run.fit.part")
    write(tmp_path / "ride.fit")
    ride, run = look(tmp_path).files
    assert run.part_mtime_ns == part.stat().st_mtime_ns
    assert ride.part_mtime_ns is None
    assert look_at(tmp_path, ["run.fit"]).files == (run,)


def test_a_partial_look_sees_only_what_is_named_and_whole_subfolders(tmp_path: Path) -> None:
    for name in ("a.fit", "b.fit", "new/c.fit", "new/deep/d.fit", "old/e.fit"):
        write(tmp_path / name)
    assert names(look_at(tmp_path, ["b.fit", "new", "gone.fit"])) == ["b.fit", "new/c.fit", "new/deep/d.fit"]
    assert look_at(tmp_path, [""]) == look(tmp_path)


def test_a_partial_look_never_leaves_the_root_or_follows_a_link_on_the_way(tmp_path: Path) -> None:
    write(tmp_path / "outside" / "run.fit")
    root = tmp_path / "root"
    write(root / "a.fit" / "b.fit")
    write(root / ".stversions" / "c.fit")
    (root / "link").symlink_to(tmp_path / "outside")
    tricks = ["../outside/run.fit", "link/run.fit", "a.fit/b.fit", ".stversions/c.fit", "/etc/x.csv", "./../outside"]
    assert look_at(root, tricks) == Listing(root=root_identity(root))


TREE = st.lists(
    st.lists(st.sampled_from(["a", "b", "c.fit", ".h", "x.part", "@eaDir", "n.docx"]), min_size=1, max_size=3),
    max_size=8,
)


@given(TREE)
def test_looking_at_each_path_by_name_finds_what_a_whole_look_finds(
    tmp_path_factory: pytest.TempPathFactory, tree: list[list[str]]
) -> None:
    root = tmp_path_factory.mktemp("tree")
    for parts in tree:
        try:
            write(root.joinpath(*parts))
        except (FileExistsError, NotADirectoryError, IsADirectoryError):
            continue
    everything = [path.relative_to(root).as_posix() for path in root.rglob("*")]
    assert look_at(root, everything).files == look(root).files
    assert set(look_at(root, everything).refused) == set(look(root).refused)


def test_looking_changes_nothing_in_the_folder(tmp_path: Path) -> None:
    write(tmp_path / "sub" / "run.fit")
    before = {path: path.stat().st_mtime_ns for path in [tmp_path, *tmp_path.rglob("*")]}
    look(tmp_path)
    assert {path: path.stat().st_mtime_ns for path in [tmp_path, *tmp_path.rglob("*")]} == before
