"""JPEG bytes made to break, stall or mislead the reader."""

from __future__ import annotations

import functools
import io
import json
import struct
import warnings
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jpegs import data_span, noise, saved, scan_segment, segment, with_segments
from PIL import Image

from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.jpeg import read
from pytest_webdeliverable.measure.headers.jpeg_scan import PictureFeed
from pytest_webdeliverable.measure.limits import MIB, Limits

if TYPE_CHECKING:
    from collections.abc import Callable

MARKS = {
    "baseline": lambda: saved(noise("RGB", (320, 240)), quality=90),
    "progressive": lambda: saved(noise("RGB", (320, 240)), quality=90, progressive=True),
    "restarts": lambda: saved(noise("RGB", (320, 240)), quality=90, restart_marker_rows=1),
    "gray": lambda: saved(noise("L", (320, 240)), quality=90),
}


@functools.cache
def sound(kind: str) -> bytes:
    return MARKS[kind]()


def outcome(data: bytes, limits: Limits | None = None) -> str:
    """Everything said against a file, by whichever way it is said."""
    try:
        return "; ".join(read(data, limits or Limits()).problems)
    except DamagedError as error:
        return str(error)


# Truncation


@pytest.mark.parametrize("kind", MARKS)
@pytest.mark.parametrize("tenth", range(1, 10))
def test_cut_at_every_tenth(kind: str, tenth: int) -> None:
    data = sound(kind)
    assert outcome(data[: len(data) * tenth // 10])


@pytest.mark.parametrize("kind", MARKS)
def test_cut_by_one_byte(kind: str) -> None:
    assert "end marker" in outcome(sound(kind)[:-1])


def test_every_beginning_of_a_file_is_refused_or_incomplete() -> None:
    data = saved(noise("RGB", (16, 16)), progressive=True, icc_profile=b"profile")
    assert all(outcome(data[:length]) for length in range(len(data)))


# More in the file than a picture


def test_glued_pictures() -> None:
    first, second = sound("baseline"), sound("progressive")
    assert outcome(first + second) == (
        f"{len(second):,} bytes follow the end of the picture: a JPEG picture"
    )


def test_archive_behind_the_picture() -> None:
    assert "ZIP archive" in outcome(sound("baseline") + b"PK\3\4" + bytes(100))


# Data that is not the picture's


@pytest.mark.parametrize("kind", ["baseline", "restarts", "gray"])
def test_zeroed_middle(kind: str) -> None:
    data = sound(kind)
    start, end = data_span(data)
    third = (end - start) // 3
    assert "blank" in outcome(data[: start + third] + bytes(third) + data[end - third :])


def test_enormous_size_over_almost_no_data() -> None:
    data = sound("baseline")
    at = data.index(b"\xff\xc0") + 5
    huge = data[:at] + struct.pack(">HH", 13_000, 13_000) + data[at + 4 :]
    assert "cannot hold 13000 x 13000 px" in outcome(huge)


def test_largest_size_the_format_can_state() -> None:
    data = sound("progressive")
    at = data.index(b"\xff\xc2") + 5
    assert "cannot hold 65535 x 65535 px" in outcome(data[:at] + b"\xff" * 4 + data[at + 4 :])


# Cost. Each of these stalls a reader that works byte by byte or marker by marker, so that a
# relapse shows as a run that does not end; no time is measured.

FILL = b"\xff" * 52_000_000


def behind_start(extra: bytes) -> bytes:
    return with_segments(sound("gray"), extra)


def before_end(extra: bytes) -> bytes:
    return sound("gray")[:-2] + extra + sound("gray")[-2:]


COSTLY: dict[str, tuple[Callable[[], bytes], str]] = {
    "fill before the frame": (lambda: behind_start(FILL), "52,000,000 fill bytes"),
    "fill in the data": (lambda: before_end(FILL), "more than 1024 fill bytes"),
    "zeros between segments": (lambda: behind_start(bytes(50 * MIB)), "garbled"),
    "stuffed bytes between segments": (lambda: behind_start(b"\xff\0" * 25 * MIB), "garbled"),
    "restarts between segments": (lambda: behind_start(b"\xff\xd0" * 25 * MIB), "garbled"),
    "lone markers": (lambda: behind_start(b"\xff\x01" * 25 * MIB), "more than 1024 segments"),
    "restarts in the data": (lambda: before_end(b"\xff\xd0" * 25 * MIB), "restart markers"),
    "100 MB of Exif": (
        lambda: behind_start(segment(0xE1, b"Exif\0\0II*\0" + bytes(65_000)) * 1600),
        "of metadata",
    ),
    "empty segments": (lambda: behind_start(segment(0xE1, b"") * 1_000_000), "1024 segments"),
    "2,000 scans": (lambda: before_end(scan_segment(1) * 2000), "more than 64 scans"),
    "tables without end": (
        lambda: behind_start(segment(0xC4, (b"\0" + bytes(15) + b"\1\0") * 3600) * 900),
        "Huffman table",
    ),
}


@pytest.mark.parametrize(("make", "words"), COSTLY.values(), ids=COSTLY)
def test_costly_file_is_refused_at_once(make: Callable[[], bytes], words: str) -> None:
    assert words in outcome(make())


def test_restarts_announced_and_without_end() -> None:
    data = sound("gray")
    at = data.index(b"\xff\xda")
    interval = segment(0xDD, b"\0\1")
    flood = data[:at] + interval + data[at:-2] + b"\xff\xd0" * 25 * MIB + data[-2:]
    assert "restart markers are missing or out of order" in outcome(flood)


def test_limits_are_the_policys() -> None:
    data = saved(noise("RGB", (16, 16)), progressive=True)
    assert "more than 3 scans" in outcome(data, Limits(jpeg_scans=3))
    assert "more than 5 segments" in outcome(data, Limits(jpeg_segments=5))
    assert "more than 2 fill bytes" in outcome(before_end(b"\xff" * 9), Limits(jpeg_fill=2))


def test_metadata_limit_counts_comments() -> None:
    data = with_segments(sound("gray"), segment(0xFE, bytes(60_000)) * 300)
    assert "of metadata" in outcome(data)


# Lies in metadata


def test_second_part_of_a_profile_alone() -> None:
    header = read(behind_start(segment(0xE2, b"ICC_PROFILE\0\2\2" + bytes(200))))
    assert header.icc is None
    assert header.icc_problem


def test_index_of_pictures_far_outside_the_file() -> None:
    entries = struct.pack("<IIIHH", 0, 2**32 - 1, 2**32 - 1, 0, 0) * 3
    index = b"II*\0\x08\0\0\0\1\0" + struct.pack("<HHII", 0xB002, 7, 2**32 - 1, 22) + entries
    header = read(behind_start(segment(0xE2, b"MPF\0" + index)))
    assert header.frames == 1
    assert "further pictures" in header.problems[0]


@pytest.mark.parametrize("entries", [1, 3, 1000])
def test_one_preview_named_many_times(entries: int) -> None:
    """A thousand entries for the same 5 MiB would be copied a thousand times: it is one preview."""
    data = sound("gray")
    size, length = 5 * 2**20, 22 + 16 * entries
    place = len(data) + length  # from the index, which begins 10 bytes into the file
    entry = struct.pack("<IIIHH", 0x010001, size, place - 2, 0, 0)
    index = b"II*\0\x08\0\0\0\1\0" + struct.pack("<HHII", 0xB002, 7, 16 * entries, 22)
    behind = b"\xff\xd8" + bytes(size - 2)
    whole = behind_start(segment(0xE2, b"MPF\0" + index + entry * entries)) + behind
    assert whole[10 + place - 2 :] == behind
    assert read(whole).previews == (behind,)


def test_escape_sequences_in_a_comment_go_nowhere() -> None:
    header = read(behind_start(segment(0xFE, b"\x1b[31m::error::")))
    assert "\x1b" not in repr(header.problems) + json.dumps(header.jpeg)


# Anything at all


@st.composite
def flipped(draw: st.DrawFn) -> bytes:
    data = bytearray(sound(draw(st.sampled_from(sorted(MARKS)))))
    head = data.index(b"\xff\xda") + 20
    place = st.one_of(st.integers(0, head), st.integers(0, len(data) - 1))
    for _ in range(draw(st.integers(1, 6))):
        data[draw(place)] = draw(st.integers(0, 255))
    return bytes(data)


@given(flipped())
@settings(max_examples=300)
def test_flipped_bytes_only_ever_raise_damaged_error(data: bytes) -> None:
    try:
        header = read(data)
    except DamagedError:
        return
    json.dumps(header.jpeg)
    assert header.width > 0
    assert header.height > 0
    assert all(problem == problem.strip() and problem for problem in header.problems)


@given(st.binary(max_size=300))
@settings(max_examples=300)
def test_arbitrary_bytes_behind_the_start_marker(data: bytes) -> None:
    outcome(b"\xff\xd8" + data)


@given(st.sampled_from([0xC0, 0xC2, 0xC4, 0xDB, 0xDD, 0xDC, 0xE0, 0xE1, 0xE2, 0xED, 0xEE]),
       st.sampled_from([b"", b"JFIF\0", b"JFXX\0", b"Exif\0\0", b"ICC_PROFILE\0", b"MPF\0II*\0",
                        b"MPF\0MM\0*\0\0\0\x08", b"Photoshop 3.0\x008BIM\4\4", b"Adobe",
                        b"http://ns.adobe.com/xap/1.0/\0", b"http://ns.adobe.com/xmp/extension/\0"]),
       st.binary(max_size=120))  # fmt: skip
@settings(max_examples=400)
def test_arbitrary_segments(marker: int, name: bytes, body: bytes) -> None:
    outcome(with_segments(sound("gray"), segment(marker, name + body)))


@given(flipped())
@settings(max_examples=60)
def test_feed_answers_whatever_pillow_decodes(data: bytes) -> None:
    try:
        header = read(data)
        if header.width * header.height > 1_000_000:
            return
        feed = PictureFeed(data)
    except DamagedError:
        return
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            picture = Image.open(feed, formats=["JPEG"])
            picture.load()
    except Exception:  # Pillow's own answer to a damaged file
        return
    text = feed.problem(picture)
    assert text is None or "picture data" in text


@pytest.mark.parametrize("kind", MARKS)
def test_cut_and_closed_pictures_do_not_pass(kind: str) -> None:
    data = sound(kind)
    start, end = data_span(data)
    for keep in range(start + 50, end - 50, (end - start) // 20):
        cut = data[:keep].rstrip(b"\xff") + b"\xff\xd9"
        feed = PictureFeed(cut)
        picture = Image.open(feed, formats=["JPEG"])
        picture.load()
        assert feed.problem(picture) or outcome(cut), keep


def test_feed_refuses_what_the_reader_refuses() -> None:
    with pytest.raises(DamagedError):
        PictureFeed(b"GIF89a")
    with Image.open(io.BytesIO(sound("gray"))) as picture:
        feed = PictureFeed(b"\xff\xd8" + segment(0xDB, b"") + b"\xff\xd9")
        assert feed.problem(picture) is None


@pytest.mark.parametrize("precision", [0, 1, 17, 38, 255])
def test_impossible_bits_of_a_sample_are_refused(precision: int) -> None:
    """ITU-T T.81 table B.2 allows 2 to 16; found by fuzzing, as a number of bytes beyond any memory."""
    data = sound("gray")
    at = data.index(b"\xff\xc0") + 4
    wrong = data[:at] + bytes([precision]) + data[at + 1 :]
    assert f"{precision} bits a sample" in outcome(wrong)
