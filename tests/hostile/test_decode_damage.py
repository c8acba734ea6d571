"""Damaged pictures and pictures made to cost: header and decoder together give one clear verdict."""

from __future__ import annotations

import io
import struct
import zlib
from functools import cache

import pictures
import pytest
from bounded import bounded
from header_files import chunk
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from pytest_webdeliverable.measure.decode import decode
from pytest_webdeliverable.measure.headers import read_header
from pytest_webdeliverable.measure.headers.base import DamagedError

KINDS = {
    **pictures.KINDS,
    "jpeg-cmyk": ("JPEG", {"quality": 90}),
    "png-interlaced": ("PNG", {}),
}


def interlaced(picture):
    """A PNG in seven passes (PNG, Third Edition, 8.1), which Pillow does not write."""
    passes = (
        (0, 0, 8, 8),
        (4, 0, 8, 8),
        (0, 4, 4, 8),
        (2, 0, 4, 4),
        (0, 2, 2, 4),
        (1, 0, 2, 2),
        (0, 1, 1, 2),
    )
    rows = []
    for left, top, across, down in passes:
        for y in range(top, picture.height, down):
            line = [picture.getpixel((x, y)) for x in range(left, picture.width, across)]
            if line:
                rows.append(b"\0" + b"".join(map(bytes, line)))
    size = struct.pack(">IIBBBBB", *picture.size, 8, 2, 0, 0, 1)
    parts = chunk(b"IHDR", size) + chunk(b"IDAT", zlib.compress(b"".join(rows)))
    return b"\x89PNG\r\n\x1a\n" + parts + chunk(b"IEND", b"")


@cache
def sound(kind):
    noise = Image.effect_noise((96, 72), 60)
    slope = Image.linear_gradient("L").resize((96, 72))
    picture = Image.merge("RGB", (noise, slope, slope.rotate(180)))
    if kind == "png-interlaced":
        return interlaced(picture)
    if kind == "jpeg-cmyk":
        picture = picture.convert("CMYK")
    name, options = KINDS[kind]
    file = io.BytesIO()
    picture.save(file, name, **options)
    return file.getvalue()


def verdict(data):
    """Return the reason why a file is not readable, None where it is."""
    try:
        header = read_header(data)
    except DamagedError as damage:
        return str(damage)
    if header.problems:
        return header.problems[0]
    decoded = decode(data, header)
    assert (decoded.picture is None) is (decoded.problem is not None)
    return decoded.problem


@pytest.mark.parametrize("kind", KINDS)
def test_the_sound_file_is_readable(kind):
    assert verdict(sound(kind)) is None


@pytest.mark.parametrize("tenth", range(10))
@pytest.mark.parametrize("kind", KINDS)
def test_a_file_cut_at_each_tenth_is_not(kind, tenth):
    data = sound(kind)
    reason = verdict(data[: len(data) * tenth // 10])
    assert reason
    assert reason.isprintable()


@pytest.mark.parametrize("missing", [1, 2, 3, 5, 9, 17])
@pytest.mark.parametrize("kind", KINDS)
def test_a_file_without_its_last_bytes_is_not(kind, missing):
    assert verdict(sound(kind)[:-missing])


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=60)
@given(data=st.data())
def test_flipped_bytes_give_a_verdict(kind, data):
    """Whatever the bytes, there is a picture or a reason, and nothing is raised."""
    damaged = bytearray(sound(kind))
    places = st.integers(0, len(damaged) - 1)
    for place, value in data.draw(
        st.lists(st.tuples(places, st.integers(0, 255)), min_size=1, max_size=12)
    ):
        damaged[place] = value
    reason = verdict(bytes(damaged))
    assert reason is None or reason.isprintable()


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=30)
@given(data=st.data())
def test_lost_and_doubled_stretches_give_a_verdict(kind, data):
    whole = sound(kind)
    start, end = sorted(data.draw(st.tuples(*[st.integers(0, len(whole))] * 2)))
    verdict(whole[:start] + whole[end:])
    verdict(whole[:end] + whole[start:])


def test_a_zeroed_middle_of_a_jpeg_is_not_readable():
    data = bytearray(sound("jpeg"))
    data[len(data) // 2 : len(data) // 2 + 400] = bytes(400)
    assert verdict(bytes(data))


MEASURE = """
from pytest_webdeliverable.measure.decode import decode
from pytest_webdeliverable.measure.headers import read_header
from pytest_webdeliverable.measure.headers.base import DamagedError

def measured(data):
    try:
        header = read_header(data)
        return (header.problems or (None,))[0] or decode(data, header).problem
    except DamagedError as damage:
        return str(damage)
"""


def solid(kind, width, height, mode="RGB", **options):
    file = io.BytesIO()
    Image.new(mode, (width, height)).save(file, kind, **options)
    return file.getvalue()


def scan_of(data):
    """Places of the last scan of a JPEG: start and end."""
    start = data.rindex(b"\xff\xda")
    return start, len(data) - 2


def many_scans(side, scans):
    file = io.BytesIO()
    Image.effect_noise((side, side), 60).save(file, "JPEG", quality=90, progressive=True)
    data = file.getvalue()
    start, end = scan_of(data)
    return data[:end] + data[start:end] * scans + data[end:]


def jpeg_of_size(width, height):
    """A small JPEG whose header claims another size."""
    data = bytearray(sound("jpeg"))
    at = data.index(b"\xff\xc0")
    struct.pack_into(">HH", data, at + 5, height, width)
    return bytes(data)


def jpeg_with(segment, times):
    data = sound("jpeg")
    return data[:2] + segment * times + data[2:]


def png_of_size(width, height, data=b""):
    size = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    parts = chunk(b"IHDR", size) + chunk(b"IDAT", data) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + parts


def png_with(extra):
    data = sound("png")
    return data[:33] + extra + data[33:]


def giant_tile(compression):
    """A TIFF of one tile of 2 by 2 thousand million pixels."""
    side = 2**31 - 16
    entries = [
        *((256, 4, 1, 64), (257, 4, 1, 64), (258, 3, 1, 8), (259, 3, 1, compression)),
        *((262, 3, 1, 1), (322, 4, 1, side), (323, 4, 1, side), (324, 4, 1, 8), (325, 4, 1, 4096)),
    ]
    directory = b"".join(struct.pack("<HHII", *entry) for entry in entries) + bytes(4)
    head = b"II*\0" + struct.pack("<I", 8 + 4096)
    return head + bytes(4096) + struct.pack("<H", len(entries)) + directory


def tiff(width, height, rows, strips=None):
    """A gray TIFF whose strips all lie at its end."""
    count = strips or -(-height // rows)
    arrays = 8 + 2 + 12 * 8 + 4
    pixels = arrays + 8 * count
    entries = sorted(
        [
            (256, 4, 1, width),
            (257, 4, 1, height),
            (258, 3, 1, 8),
            (259, 3, 1, 1),
            (262, 3, 1, 1),
            (273, 4, count, arrays),
            (278, 4, 1, rows),
            (279, 4, count, arrays + 4 * count),
        ]
    )
    head = b"II*\0" + struct.pack("<IH", 8, len(entries))
    directory = b"".join(struct.pack("<HHII", *entry) for entry in entries) + bytes(4)
    offsets = struct.pack("<I", pixels) * count
    return (
        head
        + directory
        + offsets
        + struct.pack("<I", width * rows) * count
        + bytes(min(width * rows, 1_000_000))
    )


def webp_of_size(width, height):
    data = bytearray(sound("webp-lossless"))
    at = data.index(b"VP8L") + 9
    struct.pack_into("<I", data, at, (width - 1) | (height - 1) << 14)
    return bytes(data)


ATTACKS = {
    "jpeg-2000-scans": lambda: many_scans(400, 2000),
    "jpeg-60-scans-of-16-megapixels": lambda: many_scans(4000, 50),
    "jpeg-60-scans-of-6-megapixels": lambda: many_scans(2500, 50),  # just allowed
    "jpeg-65500-px": lambda: jpeg_of_size(65500, 65500),
    "jpeg-13000-px-over-nothing": lambda: jpeg_of_size(13000, 13000),
    "jpeg-7900-px-over-nothing": lambda: jpeg_of_size(7900, 7900),
    "jpeg-60-mb-of-exif": lambda: jpeg_with(b"\xff\xe1\xff\xffExif\0\0" + bytes(65527), 915),
    "jpeg-60-mb-of-fill": lambda: jpeg_with(b"\xff", 60_000_000),
    "png-60000-px": lambda: png_of_size(60000, 60000),
    "png-text-bomb": lambda: png_with(
        chunk(b"zTXt", b"a\0\0" + zlib.compress(bytes(300_000_000), 9))
    ),
    "png-a-million-chunks": lambda: png_with(chunk(b"teXt", b"") * 1_000_000),
    "png-line-of-64-million-px": lambda: png_of_size(
        64_000_000, 1, zlib.compress(bytes(192_000_001))
    ),
    "webp-16383-px": lambda: webp_of_size(16383, 16383),
    "webp-26-megapixels": lambda: solid("WEBP", 5200, 5000, lossless=True, method=0),
    "tiff-a-million-strips": lambda: tiff(1, 1_000_000, 1),
    "tiff-strips-nobody-needs": lambda: tiff(64, 64, 64, strips=3_000_000),
    "tiff-giant-tile": lambda: giant_tile(1),
    "tiff-giant-packed-tile": lambda: giant_tile(8),
    "tiff-deflate-bomb": lambda: solid("TIFF", 7000, 9000, "L", compression="tiff_deflate"),
    "tiff-60000-px": lambda: tiff(60000, 60000, 60000),
    "gif-65535-px": lambda: b"GIF89a" + struct.pack("<HH", 65535, 65535) + sound("gif")[10:],
}
MAY_BE_READABLE = {
    "jpeg-60-scans-of-6-megapixels",
    "png-text-bomb",
    "webp-26-megapixels",
    "tiff-deflate-bomb",
}


@pytest.mark.parametrize("attack", ATTACKS)
def test_costs_stay_bounded(tmp_path, attack):
    """At most 5 s of processor time and 512 MB; most are refused without decoding."""
    pytest.importorskip("resource", reason="limits of processes are POSIX")
    path = tmp_path / "attack"
    path.write_bytes(ATTACKS[attack]())
    assert bounded(MEASURE, path) or attack in MAY_BE_READABLE
