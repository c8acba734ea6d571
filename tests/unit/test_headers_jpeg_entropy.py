"""What can be told of picture data without decoding it."""

from __future__ import annotations

import pytest
from jpegs import assembled, data_span, frame_segment, noise, saved, scan_segment, segment
from PIL import Image

from pytest_webdeliverable.measure.headers.jpeg import read
from pytest_webdeliverable.measure.limits import Limits

BLANK = "a stretch of the picture data is blank (zero bytes)"
LOST = "restart markers are missing or out of order: part of the picture data is lost"


def blanked(data: bytes, count: int) -> bytes:
    start, end = data_span(data)
    middle = (start + end) // 2
    return data[:middle] + bytes(count) + data[middle + count :]


def huffman(kind: int, symbol: int) -> bytes:
    """A table of two codes of 1 and 2 bits; ``symbol`` is the one of a single zero bit."""
    return segment(0xC4, bytes((kind << 4, 1, 1)) + bytes(14) + bytes((symbol, 1)))


@pytest.mark.parametrize("mode", ["L", "RGB", "CMYK"])
def test_zeroed_middle_of_a_baseline_file(mode: str) -> None:
    data = saved(noise(mode, (320, 240)), quality=95)
    assert read(data).problems == ()
    assert BLANK in read(blanked(data, 1200)).problems


@pytest.mark.parametrize("color", ["white", "black", (128, 128, 128), (30, 90, 200)])
@pytest.mark.parametrize("options", [{}, {"optimize": True}, {"progressive": True}], ids=str)
def test_flat_art_is_not_blank_data(color: object, options: dict[str, bool]) -> None:
    # Tables made for a flat picture code it in zero bits alone, for thousands of bytes.
    assert read(saved(Image.new("RGB", (1600, 1200), color), **options)).problems == ()


def test_zeros_that_mean_end_of_block_are_possible() -> None:
    tables = huffman(0, 0) + huffman(1, 0)
    data = assembled(size=(800, 800), before=tables, coded=bytes(5000))
    assert BLANK not in read(data).problems


def test_zeros_that_make_the_brightness_fall_for_ever_are_not() -> None:
    tables = huffman(0, 3) + huffman(1, 0)
    data = assembled(size=(1600, 1600), before=tables, coded=bytes(40_000))
    assert BLANK in read(data).problems


def test_zeros_that_fill_every_coefficient_are_not() -> None:
    tables = huffman(0, 0) + huffman(1, 0x01)
    data = assembled(size=(800, 800), before=tables, coded=bytes(5000))
    assert BLANK in read(data).problems


@pytest.mark.parametrize("symbol", [0xF0, 0x10], ids=["sixteen zeros", "run of blocks"])
def test_zeros_of_other_meanings_are_left_to_the_decoder(symbol: int) -> None:
    tables = huffman(0, 0) + huffman(1, symbol)
    assert BLANK not in read(assembled(size=(800, 800), before=tables, coded=bytes(5000))).problems


@pytest.mark.parametrize("tables", [b"", huffman(0, 0), huffman(0, 16) + huffman(1, 1)], ids=len)
def test_zeros_without_usable_tables_are_left_to_the_decoder(tables: bytes) -> None:
    assert BLANK not in read(assembled(size=(800, 800), before=tables, coded=bytes(5000))).problems


@pytest.mark.parametrize(("first", "last", "impossible"), [(1, 5, False), (6, 63, True)])
def test_zeros_that_fill_a_few_coefficients_may_be_a_texture(
    first: int, last: int, impossible: bool
) -> None:
    data = assembled(
        0xC2, (800, 800), before=huffman(1, 0x01), coded=bytes(5000), first=first, last=last
    )
    assert (BLANK in read(data).problems) is impossible


@pytest.mark.parametrize(("coded", "fits"), [(0, False), (2499, False), (2500, True)], ids=str)
def test_too_little_data_for_the_size(coded: int, fits: bool) -> None:
    # 100 x 100 blocks of at least 1 bit for DC and 1 bit for AC need 2,500 bytes.
    tables = huffman(0, 0) + huffman(1, 0)
    data = assembled(size=(800, 800), before=tables, coded=b"\x12" * coded)
    assert (read(data).problems == ()) is fits


def test_least_data_counts_every_component_of_a_unit() -> None:
    # 4:2:0, 50 x 50 units of 6 blocks of 2 bits: 3,750 bytes.
    tables = huffman(0, 0) + huffman(1, 0)
    picture = {"size": (800, 800), "factors": (0x22, 0x11, 0x11), "before": tables}
    assert read(assembled(coded=b"\x12" * 3750, **picture)).problems == ()
    (problem,) = read(assembled(coded=b"\x12" * 3749, **picture)).problems
    assert problem == "3,749 bytes of picture data cannot hold 800 x 800 px"


def test_arithmetic_coding_has_no_least_size() -> None:
    assert read(assembled(0xC9, size=(800, 800), coded=b"\x12")).problems == ()


def test_lossless_needs_a_bit_per_sample() -> None:
    assert read(assembled(0xC3, size=(80, 80), coded=b"\x12" * 800)).problems == ()
    assert read(assembled(0xC3, size=(80, 80), coded=b"\x12" * 799)).problems != ()


def test_restart_markers_in_order() -> None:
    data = saved(noise(), restart_marker_rows=1)
    assert read(data).problems == ()


def test_restart_marker_missing() -> None:
    data = saved(noise(), restart_marker_rows=1)
    at = data.index(b"\xff\xd3")
    assert read(data[:at] + data[at + 2 :]).problems == (LOST,)


def test_restart_markers_swapped() -> None:
    data = saved(noise(), restart_marker_rows=1)
    swapped = data.replace(b"\xff\xd2", b"\xff\xd9x", 1).replace(b"\xff\xd3", b"\xff\xd2", 1)
    swapped = swapped.replace(b"\xff\xd9x", b"\xff\xd3", 1)
    assert read(swapped).problems == (LOST,)


def test_superfluous_last_restart_marker_loses_nothing() -> None:
    data = saved(noise(), restart_marker_rows=1)
    count = sum(data.count(bytes((0xFF, code))) for code in range(0xD0, 0xD8))
    assert read(data[:-2] + bytes((0xFF, 0xD0 + count % 8)) + data[-2:]).problems == ()


def test_restart_markers_without_an_interval() -> None:
    data = saved(noise())
    start, end = data_span(data)
    middle = (start + end) // 2
    (problem,) = read(data[:middle] + b"\xff\xd0" + data[middle:]).problems
    assert "announces none" in problem


def test_restart_markers_of_a_picture_too_large_to_decode_are_not_counted() -> None:
    data = saved(noise(), restart_marker_rows=1).replace(b"\xff\xd3", b"\xff\xd4", 1)
    assert read(data, Limits(pixels=100)).problems == ()


def test_progressive_file_without_its_last_scan() -> None:
    data = saved(progressive=True)
    (problem,) = read(data[: data.rindex(b"\xff\xda")] + b"\xff\xd9").problems
    assert (
        problem == "the file stops before the picture's finest detail: its last scans are missing"
    )


def test_component_without_a_scan() -> None:
    data = (
        b"\xff\xd8"
        + frame_segment(0xC0, (8, 8), (0x11, 0x11, 0x11))
        + scan_segment(1)
        + b"\x12" * 64
        + b"\xff\xd9"
    )
    (problem,) = read(data).problems
    assert "a color component has no scan" in problem


def test_impossible_coefficient_range() -> None:
    assert read(assembled(last=64)).problems == ("the header of a scan is damaged",)


def test_hierarchical_files_are_named_and_left_alone() -> None:
    header = read(assembled(0xC5, before=segment(0xDE, b"\x08\0\x08\0\x08\1\1\x11\0"), coded=b""))
    assert header.jpeg is not None
    assert header.jpeg["process"] == "hierarchical"
    assert header.problems == ()
