"""Paths that must not lead out of the root, block, or take the run down."""

from __future__ import annotations

import os
import socket
import sys

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pytest_webdeliverable.measure import folders
from pytest_webdeliverable.measure.door import RefusedError, list_folder, read_file
from pytest_webdeliverable.measure.limits import HeavyError, Limits

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="files of POSIX systems")


@pytest.fixture
def root(tmp_path):
    (tmp_path / "secret.jpg").write_bytes(b"secret")
    folder = tmp_path / "root"
    folder.mkdir()
    (folder / "a.jpg").write_bytes(b"\xff\xd8\xff")
    return folder


def refused(root, name):
    with pytest.raises(RefusedError) as caught:
        read_file(root, name)
    sentence = caught.value.sentence
    assert sentence.isprintable()
    assert "::" not in sentence
    assert len(sentence) < 500
    return sentence


def test_a_pipe_does_not_block(root):
    os.mkfifo(root / "pipe.jpg")
    assert "is a pipe" in refused(root, "pipe.jpg")


@pytest.mark.parametrize(
    ("put", "words"),
    [
        (lambda place: os.mkfifo(place, 0o600), "replaced"),
        (lambda place: place.symlink_to("../secret.jpg"), "cannot be followed"),
    ],
    ids=["pipe", "link"],
)
def test_what_replaces_a_file_neither_blocks_nor_is_followed(root, monkeypatch, put, words):
    """Swapped between the look at it and the opening of it."""
    true_stat = os.stat

    def swap(path, **more):
        found = true_stat(path, **more)
        if path == "a.jpg":
            (root / "a.jpg").unlink()
            put(root / "a.jpg")
        return found

    monkeypatch.setattr(folders.os, "stat", swap)
    monkeypatch.setattr(folders, "true_spelling", lambda name, place: name)
    assert words in refused(root, "a.jpg")


def test_a_folder_swapped_for_a_link_is_not_followed(root, tmp_path, monkeypatch):
    (root / "in").mkdir()
    (root / "in" / "secret.jpg").write_bytes(b"fine")
    true_readlink = os.readlink

    def swap(path, **more):
        if path == "in":
            (root / "in" / "secret.jpg").unlink()
            (root / "in").rmdir()
            (root / "in").symlink_to(tmp_path, target_is_directory=True)
            raise OSError(22, "not a link a moment ago")
        return true_readlink(path, **more)

    monkeypatch.setattr(folders.os, "readlink", swap)
    monkeypatch.setattr(folders, "true_spelling", lambda name, place: name)
    refused(root, "in/secret.jpg")


def test_a_socket_is_no_picture(root, monkeypatch):
    monkeypatch.chdir(root)  # socket names are short
    with socket.socket(socket.AF_UNIX) as server:
        server.bind("s.jpg")
        assert "is a socket" in refused(root, "s.jpg")


def test_a_device_is_no_picture(root):
    (root / "null.jpg").symlink_to("/dev/null")
    assert "leads out" in refused(root, "null.jpg")
    with pytest.raises(RefusedError, match="device"):
        read_file(folders.PurePath("/dev"), "null")  # type: ignore[arg-type]


def test_links_in_a_circle_end(root):
    (root / "one.jpg").symlink_to("two.jpg")
    (root / "two.jpg").symlink_to("one.jpg")
    (root / "self").symlink_to("self/self")
    assert "circle" in refused(root, "one.jpg")
    assert "circle" in refused(root, "self/x.jpg")


def test_a_chain_of_links_that_doubles_ends(root):
    """Each link names the next one twice: 2 to the power of 40 steps."""
    (root / "0").mkdir()
    for number in range(40):
        (root / str(number + 1)).symlink_to(f"{number}/../{number}", target_is_directory=True)
    assert "circle" in refused(root, "40/x.jpg")


def test_a_dangling_link_is_missing(root):
    (root / "gone.jpg").symlink_to("nowhere.jpg")
    assert "no file gone.jpg" in refused(root, "gone.jpg")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root reads anything")
def test_a_file_without_permission_is_unreadable(root):
    (root / "a.jpg").chmod(0)
    assert "permission" in refused(root, "a.jpg")


def test_no_permission_is_said_so(root, monkeypatch):
    """As above, for runs in which the test's user may read anything."""
    true_open = os.open

    def deny(path, *args, **more):
        if path == "a.jpg":
            raise PermissionError(13, "Permission denied")
        return true_open(path, *args, **more)

    monkeypatch.setattr(folders.os, "open", deny)
    assert "permission" in refused(root, "a.jpg")


def test_a_sparse_file_of_100_gb_is_not_read(root):
    with (root / "big.jpg").open("wb") as file:
        file.write(b"\xff\xd8\xff")
        file.truncate(100 * 10**9)
    assert "100,000,000,000 bytes" in refused(root, "big.jpg")


@pytest.mark.parametrize(
    "name",
    [
        "a\nb.jpg",
        "a\x00.jpg",
        "\x1b[31m.jpg",
        "a\u202egpj.exe",
        "a\u2028.jpg",
        "\udcff.jpg",
        "\ud800",
        "x" * 256,
        "x/" * 600 + "a.jpg",
        "é" * 600,
        "::error::x",
        "##[error].jpg",
        "CON.jpg",
        "~/a.jpg",
        "C:\\a.jpg",
        "a.jpg:stream",
        "//a.jpg",
        "\\\\host\\share",
    ],
)
def test_strange_names_are_refused_in_one_plain_sentence(root, name):
    refused(root, name)


def test_names_that_some_languages_need_are_read(root):
    for name in (
        "می\u200cخواهم.jpg",
        "👩\u200d🎨.jpg",
        "::error::.jpg",
        "##[error].jpg",
        "a b'c\".jpg",
    ):
        (root / name).write_bytes(b"x")
        assert read_file(root, name).bytes == 1


def test_very_deep_folders(root):
    deep = "/".join(["d"] * 400)
    (root / deep).mkdir(parents=True)
    (root / deep / "a.jpg").write_bytes(b"x")
    assert read_file(root, f"{deep}/a.jpg").bytes == 1
    assert read_file(root, f"{deep}/../d/a.jpg").bytes == 1
    with pytest.raises(RefusedError, match="too deep"):
        list_folder(root, ".")


def test_names_that_are_not_utf_8_are_listed_and_shown(root):
    try:
        (root / "\udcff.jpg").touch()
    except OSError:
        pytest.skip("this disk allows no such name")
    assert list_folder(root, ".") == ["a.jpg", "\udcff.jpg"]
    assert "\\xff.jpg" in refused(root, "\\ff.jpg")


PARTS = st.sampled_from(
    ["..", ".", "a.jpg", "in", "up", "abs", "loop", "in2", "secret.jpg", "root", ""]
)


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(PARTS, min_size=1, max_size=8))
def test_no_path_gives_what_lies_outside(root, parts):
    """Any mixture of links and steps up gives the file inside, or a sentence."""
    if not (root / "in").exists():
        (root / "in").mkdir()
        (root / "in" / "a.jpg").write_bytes(b"in")
        (root / "up").symlink_to("in/..", target_is_directory=True)
        (root / "in" / "in2").symlink_to("../../root/in", target_is_directory=True)
        (root / "in" / "up").symlink_to("../..", target_is_directory=True)
        (root / "abs").symlink_to(root / "in", target_is_directory=True)
        (root / "loop").symlink_to("loop")
    for walks in (True, False):
        folders._WALKS = walks
        try:
            assert read_file(root, "/".join(parts)).data != b"secret"
        except RefusedError:
            continue
        finally:
            folders._WALKS = True


def test_a_file_that_is_heavy_by_its_size_is_not_read_by_several_threads_at_once(tmp_path):
    """128 MiB, or more where the limits say so; with 1, too, small files are read at once."""
    size = 128 * 1024 * 1024
    (tmp_path / "a.tif").write_bytes(b"II*\0")
    os.truncate(tmp_path / "a.tif", size)
    for least in (1, size):
        with pytest.raises(HeavyError):
            read_file(tmp_path, "a.tif", limits=Limits(aside_bytes=least), light_only=True)
    assert read_file(tmp_path, "a.tif").bytes == size
    assert read_file(tmp_path, "a.tif", limits=Limits(aside_bytes=size + 1), light_only=True)
    os.truncate(tmp_path / "a.tif", size - 1)
    assert read_file(tmp_path, "a.tif", limits=Limits(aside_bytes=1), light_only=True)
