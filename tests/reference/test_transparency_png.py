"""The one see-through color of a PNG (tRNS), at every depth: PNG Third Edition, 11.3.1.1.

"Pixels of the specified gray level (or color) are to be treated as transparent"; below 16 bits, only
the lowest bits of what is stored count.
"""

from __future__ import annotations

import struct
import zlib

import pytest
from header_files import PNG_START, chunk, ihdr

from pytest_webdeliverable.measure.content import content_facts


def picture(depth, kind, rows, clear):
    """A PNG of these samples; each row fills whole bytes."""
    bits = ["".join(format(sample, f"0{depth}b") for sample in row) for row in rows]
    data = b"".join(b"\0" + int(row, 2).to_bytes(len(row) // 8, "big") for row in bits)
    width = len(rows[0]) // (1 if kind == 0 else 3)
    head = ihdr(width, len(rows), depth, kind)
    color = chunk(b"tRNS", struct.pack(f">{len(clear)}H", *clear))
    return PNG_START + head + color + chunk(b"IDAT", zlib.compress(data)) + chunk(b"IEND")


def share(data):
    return content_facts(data, ["pixels", "edges", "likeness"])["pixels"]["see_through"]


@pytest.mark.parametrize("depth", [1, 2, 4, 8, 16])
def test_a_gray_level_is_see_through_and_no_other(depth):
    """Of 32 samples those that are equal, counted by hand; 0 and the highest level among them."""
    top = 2**depth - 1
    rows = [[0, top] * 8, [top // 2, top - top // 2, top, 0] * 4]
    samples = [sample for row in rows for sample in row]
    for clear in {0, top, top // 2, top // 3}:
        expected = samples.count(clear) / 32
        assert share(picture(depth, 0, rows, [clear])) == pytest.approx(expected)


@pytest.mark.parametrize("depth", [1, 2, 4, 8])
def test_bits_above_the_depth_do_not_count(depth):
    rows = [[1, 0, 0, 0, 1, 0, 0, 0]]
    assert share(picture(depth, 0, rows, [0xFF00 + 2**depth + 1 & 0xFFFF])) == pytest.approx(1 / 4)
    if depth == 8:
        colors = [[1, 2, 3, 4, 5, 6, 1, 2, 3, 9, 9, 9]]
        assert share(picture(8, 2, colors, [0x0101, 0xFF02, 3])) == pytest.approx(1 / 2)


def test_deep_gray_is_compared_in_both_bytes():
    """0x1234 is neither 0x1200 nor 0x0034 nor what is cut off at 255."""
    rows = [[0x1234, 0x1200, 0x0034, 0xFFFF]]
    for clear, expected in {0x1234: 1 / 4, 0xFFFF: 1 / 4, 0x3412: 0, 0x00FF: 0}.items():
        assert share(picture(16, 0, rows, [clear])) == pytest.approx(expected)


def test_a_deep_color_is_told_by_its_upper_half():
    """0x0005 is not 0x0500. Decoding keeps the upper half, so that 0x0006 is not told from 0x0005."""
    rows = [[*[0x0005] * 3, *[0x0500] * 3, *[0x7777] * 3, *[0x8000] * 3]]
    for clear, expected in {0x0005: 1 / 4, 0x0500: 1 / 4, 0x7777: 1 / 4, 0x9999: 0}.items():
        assert share(picture(16, 2, rows, [clear] * 3)) == pytest.approx(expected)
    assert share(picture(16, 2, rows, [0x0006] * 3)) == pytest.approx(1 / 4)
