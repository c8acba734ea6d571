"""What git prints, read field by field; layout from git-log and git-cat-file, "raw output format"."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

import pytest

from pytest_webdeliverable.measure import gitlog
from pytest_webdeliverable.measure.gitlog import Change, Log

A, B, NONE = "a" * 40, "b" * 40, "0" * 40


def fields(*texts):
    return iter([text.encode() for text in texts])


def test_changes_of_two_commits():
    """--raw -z: ``:MODE MODE OLD NEW STATUS`` NUL name NUL, after each commit's own line."""
    found = list(gitlog._parse(fields(
        "\x01c1 1700000000", f"\n:100644 100644 {A} {B} M", "one.jpg",
        f":100644 000000 {A} {NONE} D", "gone.jpg",
        "\x01c2 1600000000", f"\n:000000 100644 {NONE} {A} A", "f/one.jpg",
    )))  # fmt: skip
    first, second = datetime.fromtimestamp(1_700_000_000, UTC), datetime.fromtimestamp(1_600_000_000, UTC)  # fmt: skip
    assert found == [
        ("one.jpg", Change(commit="c1", time=first, blob=B)),
        ("gone.jpg", Change(commit="c1", time=first, blob=None)),
        ("f/one.jpg", Change(commit="c2", time=second, blob=A)),
    ]


@pytest.mark.parametrize(
    "raw", [f":100644 100644 {A} M", f":100644 100644 {A} {B} M extra", f":100644 {B}"]
)
def test_reading_stops_at_what_git_does_not_write(raw):
    assert list(gitlog._parse(fields("\x01c1 5", raw, "a", f":1 1 {A} {B} M", "b"))) == []


def test_a_log_that_ends_in_a_name():
    assert list(gitlog._parse(fields("\x01c1 5", f":1 1 {A} {B} M"))) == []


@pytest.mark.parametrize("seconds", [b"", b"x", b"9" * 30])
def test_a_time_that_is_none_is_the_epoch(seconds):
    assert gitlog._moment(seconds) == datetime(1970, 1, 1, tzinfo=UTC)


@pytest.mark.parametrize(
    ("data", "most", "expected"),
    [
        (b"a\0bc\0", 100, [b"a", b"bc"]),
        (b"a\0bc", 100, [b"a", b"bc"]),
        (b"", 100, []),
        (b"\0\0", 100, [b"", b""]),
        (b"a" * 70_000 + b"\0" + b"b" * 70_000 + b"\0c", 200_000, [b"a" * 70_000, b"b" * 70_000, b"c"]),
    ],
)  # fmt: skip
def test_fields_of_a_stream(data, most, expected):
    assert list(gitlog._fields(io.BufferedReader(io.BytesIO(data)), most)) == expected


def test_a_stream_is_read_up_to_the_limit_and_one_piece_more_at_most():
    data = (b"x" * 999 + b"\0") * 400
    found = list(gitlog._fields(io.BufferedReader(io.BytesIO(data)), 100_000))
    assert 100 <= len(found) <= 166


def talking(answers):
    return SimpleNamespace(stdin=io.BytesIO(), stdout=io.BytesIO(answers))


@pytest.mark.parametrize(
    ("answer", "size"),
    [(b"abc blob 12\n", 12), (b"abc tree 12\n", 0), (b"abc missing\n", 0), (b"", None), (b"abc blob 0\n", 0)],
)  # fmt: skip
def test_the_size_of_a_blob(answer, size):
    process = talking(answer)
    assert gitlog._ask(process, "abc") == size
    assert process.stdin.getvalue() == b"abc\n"


@pytest.mark.parametrize(
    ("answer", "data"),
    [(b"abc blob 5\nhello\n", b"hello"), (b"abc blob 5\nhell", None), (b"abc blob 5\nhello", None), (b"abc missing\n", None)],
)  # fmt: skip
def test_the_bytes_of_a_blob(answer, data):
    assert gitlog._blob(talking(answer), "abc") == data


def test_without_git_there_is_no_answer():
    assert gitlog._ask(None, "abc") is None
    assert gitlog._blob(None, "abc") is None


def test_the_last_other_version():
    time = datetime(2026, 1, 1, tzinfo=UTC)
    changes = tuple(
        Change(commit=c, time=time, blob=b) for c, b in (("3", B), ("2", None), ("1", A))
    )
    assert gitlog._last_other(changes, B).commit == "1"
    assert gitlog._last_other(changes, A).commit == "3"
    assert gitlog._last_other(changes[:2], B) is None


@pytest.mark.parametrize(
    ("names", "folders"),
    [
        ({"a.jpg"}, ["."]),
        ({"f/a.jpg", "f/b.jpg", "a.jpg"}, [".", "f"]),
        ({f"f/{n}/a.jpg" for n in range(64)}, sorted(f"f/{n}" for n in range(64))),
        ({f"f/{n}/a.jpg" for n in range(65)}, ["f"]),
        ({f"f/{n}/a.jpg" for n in range(65)} | {"a.jpg"}, ["."]),
        ({f"{n}/a.jpg" for n in range(65)}, ["."]),
    ],
)
def test_folders_named_to_git(names, folders):
    """Up to 64; beyond that the one that holds them all."""
    assert gitlog._folders(names) == folders


def test_a_file_outside_is_not_known(tmp_path):
    change = Change(commit="c", time=datetime(2026, 1, 1, tzinfo=UTC), blob=A)
    log = Log(top=tmp_path.resolve(), changes={"f/a.jpg": (change,)}, complete=True)
    assert log.of(tmp_path / "f" / "a.jpg") == (change,)
    assert log.of(tmp_path / "a.jpg") == ()
    assert log.of(Path("/elsewhere/f/a.jpg")) == ()


def test_the_work_tree_is_the_nearest_above(tmp_path):
    (tmp_path / "w" / ".git").mkdir(parents=True)
    (tmp_path / "w" / "f" / "g").mkdir(parents=True)
    assert gitlog.work_tree(tmp_path / "w" / "f" / "g") == (tmp_path / "w").resolve()
    assert gitlog.work_tree(tmp_path / "w") == (tmp_path / "w").resolve()


def test_names_of_blobs():
    """git hash-object: SHA-1 or SHA-256 of "blob", the length, NUL and the bytes; values by git 2.39."""
    assert gitlog.blob_id(b"") == "e69de29bb2d1d6434b8b29ae775ad8c2e48c5391"
    assert gitlog.blob_id(b"test content\n", A) == "d670460b4b4aece5915caf5c68d12f560a9fe3e4"
    empty_256 = "473a0f4c3be8a93681a267e3b1e9a7dcda1185436fe141f7749120a303721813"
    assert gitlog.blob_id(b"", "c" * 64) == empty_256
