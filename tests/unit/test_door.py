"""The door: what comes through, what is refused, and what it says."""

from __future__ import annotations

import hashlib
import os
import sys
import unicodedata
from typing import TYPE_CHECKING

import pytest

from pytest_webdeliverable.measure import door, folders, spelling
from pytest_webdeliverable.measure.door import RefusedError, list_folder, read_file
from pytest_webdeliverable.measure.limits import Limits

if TYPE_CHECKING:
    from pathlib import Path

posix = pytest.mark.skipif(sys.platform == "win32", reason="links and pipes of POSIX")


@pytest.fixture(params=["walk", "by path"])
def _both_ways(request, monkeypatch):
    """Each test runs with both ways to open a file; the second is the one of Windows."""
    if request.param == "by path":
        monkeypatch.setattr(folders, "_WALKS", False)
    elif not folders._WALKS:
        pytest.skip("this system cannot open below an open folder")


pytestmark = pytest.mark.usefixtures("_both_ways")


@pytest.fixture
def root(tmp_path) -> Path:
    (tmp_path / "root" / "images").mkdir(parents=True)
    (tmp_path / "root" / "images" / "tide.jpg").write_bytes(b"\xff\xd8\xfftide")
    (tmp_path / "outside.jpg").write_bytes(b"secret")
    return tmp_path / "root"


def refused(root: Path, name: str, **more) -> RefusedError:
    with pytest.raises(RefusedError) as caught:
        read_file(root, name, **more)
    assert caught.value.sentence == str(caught.value)
    assert not caught.value.sentence.endswith(".")
    return caught.value


def test_a_file_is_read_once_and_hashed(root):
    source = read_file(root, "images/tide.jpg")
    assert source.data == b"\xff\xd8\xfftide"
    assert source.bytes == 7
    assert source.sha256 == hashlib.sha256(source.data).hexdigest()
    assert source.name == "images/tide.jpg"
    assert source.name_on_disk == ("images", "tide.jpg")


def test_an_empty_file_is_read(root):
    (root / "empty.png").touch()
    assert read_file(root, "empty.png").data == b""


def test_paths_start_at_the_manifests_folder_and_may_climb_inside_the_root(root):
    (root / "sub").mkdir()
    source = read_file(root, "../images/./tide.jpg", base=root / "sub")
    assert source.name_on_disk == ("..", "images", "tide.jpg")


@pytest.mark.parametrize(
    "name", ["../outside.jpg", "images/../../outside.jpg", "images/../../root/../x"]
)
def test_no_path_climbs_out(root, name):
    error = refused(root, name)
    assert error.kind == "unreadable"
    assert "leads out" in error.sentence


def test_a_manifest_outside_the_root_reads_nothing(root, tmp_path):
    assert "leads out" in refused(root, "outside.jpg", base=tmp_path).sentence


@pytest.mark.parametrize("name", ["", ".", "/", "images/", "images/.", "images/tide.jpg/"])
def test_a_name_of_no_file_is_refused(root, name):
    assert refused(root, name).kind == "unreadable"


def test_an_absolute_path_is_refused(root):
    assert "below the manifest" in refused(root, str(root / "images" / "tide.jpg")).sentence


def test_a_folder_is_no_picture(root):
    (root / "folder.jpg").mkdir()
    assert "is a folder" in refused(root, "folder.jpg").sentence


def test_a_file_used_as_a_folder_is_missing(root):
    assert refused(root, "images/tide.jpg/more.jpg").kind == "missing"


@pytest.mark.parametrize(
    ("asked", "hint"),
    [
        ("images/tide.png", "tide.jpg"),  # suffix
        ("images/tied.jpg", "tide.jpg"),  # slip
    ],
)
def test_a_missing_file_names_the_nearest(root, asked, hint):
    error = refused(root, asked)
    assert error.kind == "missing"
    assert hint in error.sentence


def test_a_missing_file_with_nothing_near_has_no_hint(root):
    assert refused(root, "images/quill.avif").sentence == "there is no file images/quill.avif"


@pytest.mark.parametrize(
    ("asked", "kept"),
    [
        ("Tide.JPG", "tide.jpg"),
        (unicodedata.normalize("NFC", "gruß-é.jpg"), unicodedata.normalize("NFD", "gruß-é.jpg")),
    ],
)
def test_another_spelling_is_found_and_told(root, asked, kept):
    """The verdict is the same on disks that tell capitals and accents apart and on those that do not."""
    (root / kept).write_bytes(b"")
    assert read_file(root, asked).name_on_disk == (kept,)


def test_two_other_spellings_are_no_answer(root):
    for name in ("TWIN.jpg", "Twin.jpg"):
        (root / name).write_bytes(b"")
    if len(list(root.glob("[Tt]*.jpg"))) < 2:
        pytest.skip("this disk does not tell capitals apart")
    assert "other capitals" in refused(root, "twin.jpg").sentence


@pytest.mark.parametrize(
    ("asked", "names", "spelled"),
    [
        ("Tide.jpg", ("tide.jpg", "x"), "tide.jpg"),
        ("tide.jpg", ("Tide.jpg", "tide.jpg"), "tide.jpg"),
        ("e\u0301.jpg", ("\u00e9.jpg",), "\u00e9.jpg"),
        ("ТИД.1", ("тид.1",), "тид.1"),
        ("TIDE.jpg", ("Tide.jpg", "tide.jpg"), "TIDE.jpg"),  # cannot be told
    ],
)
def test_a_lenient_disk_gives_its_own_spelling(monkeypatch, asked, names, spelled):
    """Stands in for disks that ignore case or the form of accents: each other spelling answers."""
    monkeypatch.setattr(spelling, "_is_there", lambda name, place: True)
    monkeypatch.setattr(spelling, "names_in", lambda place: names)
    assert spelling.true_spelling(asked, "folder") == spelled


def test_a_strict_disk_is_not_listed(root, monkeypatch):
    monkeypatch.setattr(spelling, "names_in", lambda place: pytest.fail("listed"))
    assert read_file(root, "images/tide.jpg").name_on_disk == ("images", "tide.jpg")


@posix
def test_links_inside_the_root_are_followed(root):
    (root / "a").symlink_to("images", target_is_directory=True)
    (root / "b.jpg").symlink_to(root / "images" / "tide.jpg")
    (root / "images" / "c.jpg").symlink_to("../a/./../b.jpg")
    for name in ("a/tide.jpg", "b.jpg", "images/c.jpg"):
        source = read_file(root, name)
        assert source.bytes == 7
        assert source.name_on_disk == tuple(name.split("/"))


@posix
@pytest.mark.parametrize(
    "target", ["../outside.jpg", "../../../../../../etc/passwd", "/etc/passwd"]
)
def test_links_out_of_the_root_are_refused(root, target):
    (root / "link.jpg").symlink_to(target)
    error = refused(root, "link.jpg")
    assert error.kind in {"unreadable", "missing"}
    assert "leads out" in error.sentence or "no file" in error.sentence


@posix
def test_a_linked_folder_out_of_the_root_is_refused(root, tmp_path):
    (root / "up").symlink_to("..", target_is_directory=True)
    assert "leads out" in refused(root, "up/outside.jpg").sentence
    # What comes back in is fine: the file is inside.
    (root / "in").symlink_to(tmp_path / "root" / "images", target_is_directory=True)
    assert read_file(root, "in/tide.jpg").bytes == 7


@posix
def test_a_root_that_is_itself_a_link_is_fine(root, tmp_path):
    alias = tmp_path / "alias"
    alias.symlink_to(root, target_is_directory=True)
    (root / "abs.jpg").symlink_to(alias / "images" / "tide.jpg")
    assert read_file(alias, "images/tide.jpg", base=alias).bytes == 7
    assert read_file(alias, "abs.jpg", base=root).bytes == 7


def test_sizes_are_capped_by_format(root):
    limits = Limits(bytes_by_format={"jpeg": 10, "png": 12})
    (root / "a.png").write_bytes(b"\xff\xd8\xff" + b"x" * 7)
    assert read_file(root, "a.png", limits=limits).bytes == 10
    (root / "a.png").write_bytes(b"\xff\xd8\xff" + b"x" * 8)
    assert "11 bytes" in refused(root, "a.png", limits=limits).sentence
    (root / "a.png").write_bytes(b"\x89PNG\r\n\x1a\n" + b"x" * 4)
    assert read_file(root, "a.png", limits=limits).bytes == 12
    (root / "a.png").write_bytes(b"no picture, so the least of all")
    assert refused(root, "a.png", limits=limits).kind == "unreadable"


def test_a_file_that_grows_meanwhile_is_refused(root, monkeypatch):
    path = root / "images" / "tide.jpg"
    true_read = os.read

    def grow(descriptor, size):
        found = true_read(descriptor, size)
        if size > 100:  # the look at its start
            path.write_bytes(b"\xff\xd8\xfftide and time")
        return found

    monkeypatch.setattr(door.os, "read", grow)
    assert "changed while" in refused(root, "images/tide.jpg").sentence


def test_a_file_read_in_pieces_is_whole(root, monkeypatch):
    true_read = os.read
    monkeypatch.setattr(
        door.os, "read", lambda descriptor, size: true_read(descriptor, min(size, 3))
    )
    assert read_file(root, "images/tide.jpg").data == b"\xff\xd8\xfftide"


def test_a_disk_error_is_a_sentence(root, monkeypatch):
    def fail(descriptor, size):
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(door.os, "read", fail)
    assert "Input/output error" in refused(root, "images/tide.jpg").sentence


def test_too_little_memory_is_a_sentence(root, monkeypatch):
    def fail(descriptor, size):
        raise MemoryError

    monkeypatch.setattr(door.os, "read", fail)
    assert "not enough memory" in refused(root, "images/tide.jpg").sentence


def test_descriptors_are_closed(root):
    if not os.path.isdir("/proc/self/fd"):  # noqa: PTH112
        pytest.skip("needs a list of open files")
    before = len(os.listdir("/proc/self/fd"))  # noqa: PTH208
    for name in (
        "images/tide.jpg",
        "images/none.jpg",
        "images",
        "../outside.jpg",
        "a/../images/tide.jpg",
    ):
        try:
            read_file(root, name)
        except RefusedError:
            continue
    assert len(os.listdir("/proc/self/fd")) == before  # noqa: PTH208


def test_a_folder_is_listed_as_the_manifest_would_write_it(root):
    (root / "images" / "deep" / "er").mkdir(parents=True)
    (root / "images" / "deep" / "er" / "b.png").touch()
    (root / "images" / ".hidden").touch()
    (root / "images" / ".git").mkdir()
    (root / "images" / ".git" / "a.png").touch()
    assert list_folder(root, "images") == ["images/deep/er/b.png", "images/tide.jpg"]
    assert list_folder(root, "../images/deep", base=root / "images") == ["../images/deep/er/b.png"]
    assert list_folder(root, ".", base=root / "images") == ["deep/er/b.png", "tide.jpg"]


@posix
def test_listing_follows_no_link_out_nor_in_circles(root):
    (root / "images" / "up").symlink_to("../..", target_is_directory=True)
    (root / "images" / "loop").symlink_to("loop")
    (root / "images" / "out.jpg").symlink_to("../../outside.jpg")
    (root / "images" / "same.jpg").symlink_to("tide.jpg")
    assert list_folder(root, "images") == ["images/same.jpg", "images/tide.jpg"]


def test_listing_is_bounded(root, monkeypatch):
    monkeypatch.setattr(door, "MOST_LISTED", 2)
    for number in range(3):
        (root / "images" / f"{number}.jpg").touch()
    with pytest.raises(RefusedError, match="more than 2 files"):
        list_folder(root, "images")
    monkeypatch.setattr(door, "MOST_LISTED", 9)
    monkeypatch.setattr(door, "DEEPEST_LISTED", 1)
    (root / "images" / "a" / "b").mkdir(parents=True)
    with pytest.raises(RefusedError, match="too deep"):
        list_folder(root, "images")


@pytest.mark.parametrize(
    ("folder", "kind"),
    [("none", "missing"), ("..", "unreadable"), ("images/tide.jpg", "unreadable")],
)
def test_listing_refuses(root, folder, kind):
    with pytest.raises(RefusedError) as caught:
        list_folder(root, folder)
    assert caught.value.kind == kind
