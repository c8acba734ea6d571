"""Names, folders and links at the edge of what is allowed, and one beyond; what is said of errors."""

from __future__ import annotations

import errno
import os
import stat
from math import ceil

import pytest

from pytest_webdeliverable.measure import door, folders, spelling
from pytest_webdeliverable.measure.door import RefusedError, list_folder, read_file, refused_name
from pytest_webdeliverable.measure.folders import parts_below
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits, changed_limits

posix = pytest.mark.skipif(os.name != "posix", reason="needs links and descriptors of folders")


@pytest.mark.parametrize(("letter", "bytes_each"), [("a", 1), ("é", 2), ("海", 3)])
def test_the_longest_path(letter, bytes_each):
    """1,024 bytes of UTF-8, PATH_MAX of macOS."""
    longest = letter * (1024 // bytes_each)
    assert refused_name(longest) == ""
    assert "longer than 1024 bytes" in refused_name(letter * ceil(1025 / bytes_each))


@pytest.mark.parametrize("name", ["/a.jpg", "", ".", "./", "a/", "a/.", "a\u202eb", "a\x00b", "a\u2028b"])  # fmt: skip
def test_names_that_name_no_picture(name):
    assert refused_name(name)


@pytest.mark.parametrize(
    "name", ["a.jpg", "./a.jpg", "a//b.jpg", "../a.jpg", "نامه\u200cها.jpg", "a/./b"]
)
def test_names_that_could_be_there(name):
    assert refused_name(name) == ""


@pytest.mark.parametrize("character", "\b\t\n\f\r")
def test_a_turned_slash_in_toml_is_guessed(character):
    """TOML 1.0, strings: \\b \\t \\n \\f \\r are characters of their own."""
    assert "write / between folders" in refused_name(f"images{character}ide.jpg")
    assert "rename it" in refused_name("images\x01ide.jpg")


def refused(root, name, **more):
    with pytest.raises(RefusedError) as caught:
        read_file(root, name, **more)
    return caught.value


@posix
@pytest.mark.parametrize(("links", "opens"), [(1, True), (40, True), (41, False)])
def test_links_one_behind_the_other(tmp_path, links, opens):
    """Linux follows 40 (path_resolution(7))."""
    (tmp_path / "0").write_bytes(b"\xff\xd8\xffend")
    for number in range(1, links + 1):
        (tmp_path / str(number)).symlink_to(str(number - 1))
    if opens:
        assert read_file(tmp_path, str(links)).bytes == 6
    else:
        assert "circle" in refused(tmp_path, str(links)).sentence


@posix
def test_links_up_and_to_absolute_places(tmp_path):
    root = tmp_path / "root"
    (root / "f" / "g").mkdir(parents=True)
    (root / "a.jpg").write_bytes(b"\xff\xd8\xffa")
    (root / "f" / "up.jpg").symlink_to("../a.jpg")
    (root / "f" / "g" / "abs.jpg").symlink_to(root.resolve() / "a.jpg")
    (root / "beside").symlink_to(str(root.resolve()) + "-other/a.jpg")
    (root / "top").symlink_to(root.resolve())
    assert read_file(root, "f/up.jpg").data.endswith(b"a")
    assert read_file(root, "f/g/abs.jpg").data.endswith(b"a")
    assert read_file(root, "top/a.jpg").data.endswith(b"a")
    assert read_file(root, "../../a.jpg", base=root / "f" / "g").name_on_disk == (
        "..",
        "..",
        "a.jpg",
    )
    for name in ("beside", "../a.jpg", "f/../../root/a.jpg"):
        assert "leads out of the root folder" in refused(root, name).sentence


@pytest.mark.parametrize(
    ("number", "kind", "words"),
    [
        (errno.ENOENT, "missing", "there is no file"),
        (errno.ENOTDIR, "missing", "'n' is not a folder"),
        (errno.EACCES, "unreadable", "no permission"),
        (errno.EPERM, "unreadable", "no permission"),
        (errno.ENAMETOOLONG, "unreadable", "too long for the disk"),
        (errno.ELOOP, "unreadable", "link that cannot be followed"),
        (errno.EMFILE, "unreadable", "too many files"),
        (errno.ENFILE, "unreadable", "too many files"),
        (errno.EIO, "unreadable", "the disk reports: words of the disk"),
    ],
)
def test_each_error_of_the_disk_has_its_sentence(tmp_path, number, kind, words):
    found = folders._refusal(OSError(number, "words of the disk"), "shown", "n", str(tmp_path))
    assert found.kind == kind
    assert words in found.sentence


@pytest.mark.parametrize(
    ("mode", "words"),
    [(stat.S_IFDIR, "a folder"), (stat.S_IFIFO, "a pipe"), (stat.S_IFSOCK, "a socket"),
     (stat.S_IFLNK, "a link that changed"), (stat.S_IFBLK, "a device"), (stat.S_IFCHR, "a device")],
)  # fmt: skip
def test_what_is_no_file_is_named(mode, words):
    assert f"shown is {words}" in folders._not_a_file(mode, "shown").sentence


def test_parts_below_a_folder(tmp_path):
    (tmp_path / "f").mkdir()
    assert parts_below(tmp_path / "f" / "a", tmp_path) == ("f", "a")
    assert parts_below(tmp_path, tmp_path) == ()
    assert parts_below(tmp_path, tmp_path / "f") is None
    assert parts_below(str(tmp_path) + "x", tmp_path) is None


@pytest.mark.parametrize(("depth", "listed"), [(32, True), (33, False)])
def test_folders_within_folders(tmp_path, depth, listed):
    place = tmp_path / "p"
    for number in range(depth):
        place = place / str(number % 10)
    place.mkdir(parents=True)
    (place / "a.jpg").touch()
    if listed:
        (name,) = list_folder(tmp_path, "p")
        assert name.count("/") == depth + 1
    else:
        with pytest.raises(RefusedError, match="nested too deep"):
            list_folder(tmp_path, "p")


def test_as_many_files_as_allowed_are_listed(tmp_path, monkeypatch):
    monkeypatch.setattr(door, "MOST_LISTED", 3)
    for number in range(3):
        (tmp_path / f"{number}.jpg").touch()
    assert len(list_folder(tmp_path, ".")) == 3
    (tmp_path / "3.jpg").touch()
    with pytest.raises(RefusedError, match="more than 3 files"):
        list_folder(tmp_path, ".")


def test_what_is_no_picture_may_be_as_large_as_the_smallest_limit():
    limits = Limits(bytes_by_format={"jpeg": 30, "png": 20, "gif": 10})
    assert door._size_cap(b"\xff\xd8\xff\xe0", limits) == 30
    assert door._size_cap(b"GIF89a", limits) == 10
    assert door._size_cap(b"no picture", limits) == 10


def test_a_file_that_was_replaced_is_closed(tmp_path, monkeypatch):
    """The way of systems without descriptors of folders."""
    (tmp_path / "a.jpg").write_bytes(b"\xff\xd8\xffa")
    closed = []
    close = os.close
    monkeypatch.setattr(os.path, "samestat", lambda *_: False)
    monkeypatch.setattr(os, "close", lambda one: closed.append(one) or close(one))
    with pytest.raises(RefusedError, match="was replaced"):
        folders._open_by_path(tmp_path, (), ["a.jpg"], "a.jpg")
    assert len(closed) == 1


# Spelling


@pytest.mark.parametrize(
    ("name", "names", "near"),
    [
        ("Tide.JPG", ["tide.jpg", "tide.png"], "tide.jpg"),
        ("tide.jpeg", ["tide2.jpg", "tide.png", "tide.jpg"], "tide.png"),
        ("tide.jpeg", ["tide.jpg", "TIDE.JPEG"], "TIDE.JPEG"),
        ("tyde.jpg", ["tide.jpg", "harbor.jpg"], "tide.jpg"),
        ("tide.jpg", ["harbor.png"], None),
        ("tide", ["tide.jpg"], "tide.jpg"),
        ("tide.jpg", ["tide"], "tide"),
        ("e\u0301t.jpg", ["\u00e9t.jpg"], "\u00e9t.jpg"),
        ("a", [], None),
    ],
)
def test_the_nearest_name(name, names, near):
    """The same but for case and accents, else but for the suffix, else a similar one."""
    assert spelling.nearest_name(name, names) == near


def test_one_other_spelling_is_taken_and_two_are_not():
    assert spelling._only_variant("A.jpg", ["a.jpg", "b.jpg"]) == "a.jpg"
    assert spelling._only_variant("A.jpg", ["a.jpg", "a.JPG"]) == "A.jpg"
    assert spelling._only_variant("A.jpg", ["b.jpg"]) == "A.jpg"


# Limits in the ini file


def test_numbers_of_limits():
    """From 1 to 2^53, the largest whole number that is exact in floating point (IEEE 754)."""
    assert changed_limits(["frames = 1"]).frames == 1
    assert changed_limits([f"pixels = {2**53}"]).pixels == 2**53
    assert changed_limits(["bytes.png = 1 MiB"]).bytes_by_format["png"] == 1_048_576
    assert changed_limits(["seconds = 1.5"]).seconds == 1.5
    assert changed_limits(["frames = 2.9"]).frames == 2
    for wrong in ("frames = 0.99", f"pixels = {2**53 + 2}", "frames = -1 MiB", "frames = "):
        with pytest.raises(ValueError, match="needs a number"):
            changed_limits([wrong])
    assert changed_limits([]) == DEFAULT_LIMITS
