"""Counting the rows of a PNG's picture data."""

import io
import zlib

import pytest
from header_files import PNG_START, chunk, ihdr, saved
from PIL import Image

from pytest_webdeliverable.measure.headers import png
from pytest_webdeliverable.measure.headers.png_data import holds, unpacked_size

# Which pass each pixel of an 8 x 8 square belongs to: W3C PNG Third Edition, 8.1, from memory.
ADAM7 = [
    "16462646",
    "77777777",
    "56565656",
    "77777777",
    "36463646",
    "77777777",
    "56565656",
    "77777777",
]
ROW = b"\0" + b"\x80" * 12
EARLY = ("the file ends before the picture does",)


def problems(idat):
    return png.read(PNG_START + ihdr() + chunk(b"IDAT", idat) + chunk(b"IEND")).problems


@pytest.mark.parametrize("width", [1, 2, 3, 4, 5, 7, 8, 9, 17])
@pytest.mark.parametrize("height", [1, 2, 3, 5, 8, 9, 17])
@pytest.mark.parametrize("bits", [1, 4, 8, 24, 64])
def test_interlaced_sizes_by_counting_pixels(width, height, bits):
    total = 0
    for number in "1234567":
        rows = [sum(ADAM7[y % 8][x % 8] == number for x in range(width)) for y in range(height)]
        total += sum(1 + (columns * bits + 7) // 8 for columns in rows if columns)
    assert unpacked_size(width, height, bits, interlaced=True) == total


@pytest.mark.parametrize(
    ("mode", "bits"), [("1", 1), ("L", 8), ("RGB", 24), ("RGBA", 32), ("I;16", 16)]
)
def test_plain_sizes_as_pillow_writes_them(mode, bits):
    data = saved(Image.new(mode, (37, 11)), "PNG")
    at = data.index(b"IDAT")
    stream = data[at + 4 : at + 4 + int.from_bytes(data[at - 4 : at], "big")]
    assert unpacked_size(37, 11, bits, interlaced=False) == len(zlib.decompress(stream))


@pytest.mark.parametrize("rows", [0, 1, 2])
def test_missing_rows_are_told_though_decoders_fill_them_in(rows):
    idat = zlib.compress(ROW * rows)
    assert problems(idat) == EARLY
    if rows:
        data = PNG_START + ihdr() + chunk(b"IDAT", idat) + chunk(b"IEND")
        Image.open(io.BytesIO(data)).load()


@pytest.mark.parametrize("rows", [3, 4])
def test_all_rows_and_more(rows):
    assert problems(zlib.compress(ROW * rows)) == ()


def test_a_stream_that_is_cut_within_its_rows():
    assert problems(zlib.compress(ROW * 3, 0)[:-8]) == EARLY


@pytest.mark.parametrize("idat", [b"no zlib stream", b"\x78\x9c\xff\xff\xff"])
def test_a_broken_stream(idat):
    assert problems(idat) == ("the picture data is damaged",)


def test_a_stream_in_many_pieces():
    stream = zlib.compress(bytes(1_000_000), 0)
    places = [(at, min(at + 3000, len(stream))) for at in range(0, len(stream), 3000)]
    assert holds(stream, places, 1_000_000)
    assert not holds(stream, places, 1_000_001)
    assert not holds(stream, places[:-1], 1_000_000)
