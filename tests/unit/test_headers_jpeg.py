"""The JPEG header reader on files written by Pillow and by hand."""

from __future__ import annotations

import pytest
from jpegs import (
    assembled,
    data_span,
    frame_segment,
    noise,
    saved,
    scan_segment,
    segment,
    tables_segment,
    with_segments,
)

from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.jpeg import read


def test_two_components_are_another_mode() -> None:
    assert read(assembled(factors=(0x11, 0x11))).mode == "other"


def test_baseline_facts() -> None:
    facts = read(saved(quality=90, subsampling=0)).jpeg
    assert facts == {
        "process": "baseline",
        "coding": "huffman",
        "marker": "SOF0",
        "scans": 1,
        "sampling": "4:4:4",
        "quality": {"value": 90.0, "exact": True, "luma": 90.0, "chroma": 90.0},
        "adobe_transform": None,
        "restart_interval": 0,
    }


def test_progressive_facts() -> None:
    facts = read(saved(progressive=True)).jpeg
    assert facts is not None
    assert (facts["process"], facts["marker"]) == ("progressive", "SOF2")
    assert facts["scans"] == 10  # the script of libjpeg's jpeg_simple_progression for YCbCr


def test_cmyk_states_its_adobe_transform() -> None:
    facts = read(saved(noise("CMYK"))).jpeg
    assert facts is not None
    assert facts["adobe_transform"] == 0
    assert facts["sampling"] == "4:4:4"


def test_restart_interval() -> None:
    header = read(saved(restart_marker_blocks=3))
    assert header.jpeg is not None
    assert header.jpeg["restart_interval"] == 3
    assert header.problems == ()


def test_height_from_number_of_lines_segment() -> None:
    data = saved(noise("L", (24, 16)))
    at = data.index(b"\xff\xc0") + 5
    without = data[:at] + b"\0\0" + data[at + 2 :]
    with pytest.raises(DamagedError, match="height"):
        read(without)
    end = len(without) - 2
    with_lines = without[:end] + segment(0xDC, b"\0\x10") + without[end:]
    assert read(with_lines).height == 16


# Faults


def test_missing_end_marker() -> None:
    assert read(saved()[:-2]).problems == (
        "the file ends before the picture does: the end marker is missing",
    )


@pytest.mark.parametrize(
    ("extra", "words"),
    [
        (b"\n", "1 byte follows the end of the picture"),
        (b"PK\3\4" + bytes(20), "24 bytes follow the end of the picture: a ZIP archive"),
        (bytes(5000), "5,000 bytes follow the end of the picture"),
        (b"\0\0\0" + b"\xff\xd8\xff\xe0", "7 bytes follow the end of the picture: a JPEG picture"),
        (b"\x9d\x11\x80", "3 bytes follow the end of the picture"),
    ],
)
def test_data_behind_the_end(extra: bytes, words: str) -> None:
    (problem,) = read(saved() + extra).problems
    assert problem.startswith(words)


def test_a_block_of_zero_padding_is_no_fault() -> None:
    assert read(saved() + bytes(4095)).problems == ()


def test_fill_bytes_before_a_marker_are_legal() -> None:
    data = saved()
    at = data.index(b"\xff\xc0")
    assert read(data[:at] + b"\xff" * 20 + data[at:-2] + b"\xff" * 20 + data[-2:]).problems == ()


def test_stray_bytes_between_segments() -> None:
    data = saved()
    at = data.index(b"\xff\xc0")
    (problem,) = read(data[:at] + b"abc" + data[at:]).problems
    assert problem.startswith("3 stray bytes lie between")


def test_picture_within_the_picture_before_its_end() -> None:
    data = saved()
    start, end = data_span(data)
    header = read(data[: (start + end) // 2] + data)
    assert "a second picture begins before the first one has ended" in header.problems


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "begin"),
        (b"\xff", "begin"),
        (b"GIF89a", "begin"),
        (b"\xff\xd8", "before its picture begins"),
        (b"\xff\xd8\xff\xd9", "before its picture begins"),
        (b"\xff\xd8" + frame_segment(0xC0, (8, 8), (0x11,)), "before its picture begins"),
        (b"\xff\xd8" + scan_segment(1), "before the frame header"),
        (b"\xff\xd8\xff\xe0\0\1", "impossible length"),
        (b"\xff\xd8" + segment(0xC0, b"\x08\0\x08\0\x08"), "frame header is incomplete"),
        (b"\xff\xd8" + segment(0xC0, b"\x08\0\x08\0\x08\x03\1\x11\0"), "incomplete"),
        (assembled(size=(0, 8)), "width of 0"),
        (assembled(factors=(0x01,)), "sampling factors"),
        (assembled(factors=(0x15,)), "sampling factors"),
        (assembled(before=frame_segment(0xC0, (8, 8), (0x11,))), "twice"),
        (assembled(before=segment(0xDB, b"\0\1\2")), "quantization table"),
        (assembled(before=segment(0xDB, b"\x04" + bytes(64))), "quantization table"),
        (assembled(before=segment(0xC4, b"\0" + bytes(8))), "Huffman table"),
        (assembled(before=segment(0xC4, b"\0\2" + bytes(15) + b"\1")), "Huffman table"),
    ],
)
def test_files_that_are_no_readable_jpeg(data: bytes, words: str) -> None:
    with pytest.raises(DamagedError, match=words):
        read(data)


@pytest.mark.parametrize(
    "scan",
    [
        segment(0xDA, b""),
        segment(0xDA, b"\0\0\x3f\0"),
        segment(0xDA, b"\5" + bytes(13)),
        segment(0xDA, b"\1\1\0"),
        segment(0xDA, b"\1\7\0\0\x3f\0"),
    ],
    ids=["empty", "no component", "five components", "cut", "unknown component"],
)
def test_damaged_scan_header(scan: bytes) -> None:
    with pytest.raises(DamagedError, match="scan"):
        read(b"\xff\xd8" + frame_segment(0xC0, (8, 8), (0x11,)) + scan + b"\x12" * 9 + b"\xff\xd9")


@pytest.mark.parametrize(
    ("factors", "name"),
    [
        ((0x22,), "gray"),
        ((0x22, 0x22, 0x22), "4:4:4"),
        ((0x42, 0x11, 0x11), "4:1:0"),
        ((0x22, 0x11, 0x21), "2x2,1x1,2x1"),
        ((0x11, 0x22, 0x22), "1x1,2x2,2x2"),
        ((0x31, 0x11, 0x11), "3x1,1x1,1x1"),
        ((0x22, 0x11, 0x11, 0x22), "4:2:0"),
        ((0x22, 0x11, 0x11, 0x11), "2x2,1x1,1x1,1x1"),
        ((0x11, 0x11), "1x1,1x1"),
    ],
)
def test_sampling_is_named_or_spelled_out(factors: tuple[int, ...], name: str) -> None:
    facts = read(assembled(factors=factors)).jpeg
    assert facts is not None
    assert facts["sampling"] == name


def test_the_first_tables_count_and_later_ones_do_not() -> None:
    data = saved(quality=90)
    assert (
        read(data[:-2] + tables_segment((9,) * 64, (9,) * 64) + data[-2:]).jpeg == read(data).jpeg
    )


@pytest.mark.parametrize("payload", [b"", b"\0"], ids=len)
def test_cut_restart_interval_is_none(payload: bytes) -> None:
    header = read(with_segments(saved(), segment(0xDD, payload)))
    assert header.jpeg is not None
    assert header.jpeg["restart_interval"] == 0


def test_number_of_lines_cannot_overrule_the_frame() -> None:
    data = saved(noise("L", (24, 16)))
    assert read(data[:-2] + segment(0xDC, b"\0\x20") + data[-2:]).height == 16
