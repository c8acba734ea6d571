"""Application segments of JPEG by hand: JFIF (ITU-T T.871), T.872, ICC.1 annex B, CIPA DC-007."""

from __future__ import annotations

import struct

import pytest
from jpegs import assembled, segment

from pytest_webdeliverable.measure.headers.base import Density
from pytest_webdeliverable.measure.headers.jpeg import read
from pytest_webdeliverable.measure.headers.jpeg_apps import Apps, Picture, _pictures, read_apps
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits

JFIF, JFXX = b"JFIF\0\1\2", b"JFXX\0"


def apps(*segments: tuple[int, bytes], limits: Limits = DEFAULT_LIMITS) -> Apps:
    return read_apps([(marker, 100, payload) for marker, payload in segments], limits)


@pytest.mark.parametrize(("units", "factor"), [(0, None), (1, 1.0), (2, 2.54), (3, None), (255, None)])  # fmt: skip
@pytest.mark.parametrize("x", [0, 1, 300, 65_535])
def test_units_of_density(units: int, factor: float | None, x: int) -> None:
    """T.871, 10.1: 0 no unit, 1 per inch, 2 per centimeter; two bytes each."""
    found = apps((0xE0, JFIF + struct.pack(">BHHBB", units, x, 72, 0, 0))).densities
    known = factor is not None and x > 0
    expected = (x * factor, 72 * factor) if known and factor else (None, None)
    assert found == [Density(place="JFIF", x=expected[0], y=expected[1])]
    turned = apps((0xE0, JFIF + struct.pack(">BHHBB", units, 72, x, 0, 0))).densities
    assert turned == [Density(place="JFIF", x=expected[1], y=expected[0])]


@pytest.mark.parametrize("cut", [0, 1, 9])
def test_a_jfif_segment_that_is_cut(cut: int) -> None:
    body = JFIF + struct.pack(">BHHBB", 1, 72, 72, 0, 0)
    found = apps((0xE0, body[: len(body) - cut]))
    assert found.problems == (["the JFIF segment is incomplete"] if cut else [])
    assert len(found.densities) == (cut == 0)
    assert apps((0xE1, body)).densities == []


PALETTE = bytes(range(256)) * 3


@pytest.mark.parametrize(
    ("body", "preview"),
    [(b"\x10\xff\xd8\xff\xe0", b"\xff\xd8\xff\xe0"), (b"\x10", b""), (b"\x13\1\1rgb", b"P6 1 1 255\nrgb"),
     (b"\x13\1\1rg", None), (b"\x13\1", None), (b"\x13\2\1rgbRGBmore", b"P6 2 1 255\nrgbRGB"),
     (b"\x13\1\2rgbRGB", b"P6 1 2 255\nrgbRGB"), (b"\x13\0\1rgb", None), (b"\x12\1\1rgb", None),
     (b"\x11\2\1" + PALETTE + b"\0\x55", b"P6 2 1 255\n\0\1\2\xff\0\1"),
     (b"\x11\1\1" + PALETTE + b"\xff", b"P6 1 1 255\n\xfd\xfe\xff"),
     (b"\x11\2\1" + PALETTE + b"\0", None), (b"\x11\1\1" + PALETTE[:-1], None), (b"\x11\1\1" + PALETTE, None),
     (b"", None)],
)  # fmt: skip
def test_previews_in_extensions_of_jfif(body: bytes, preview: bytes | None) -> None:
    """T.871, 10.2 to 10.5: 0x10 a JPEG; 0x11 a palette of 768 bytes and indexes; 0x13 three bytes."""
    assert apps((0xE0, JFXX + body)).previews == ([] if preview is None else [preview])


@pytest.mark.parametrize(("length", "transform"), [(12, 2), (11, None), (13, 2)])
def test_the_color_transform(length: int, transform: int | None) -> None:
    """T.872, 6.5.3: "Adobe", version, two flags of 2 bytes each, the transform."""
    payload = (b"Adobe\0\x64\0\1\0\3\2\x09")[:length]
    assert apps((0xEE, payload)).adobe_transform == transform
    assert apps((0xED, payload)).adobe_transform is None
    assert apps((0xEE, b"Other" + payload[5:])).adobe_transform is None


def icc(number: int, count: int, content: bytes) -> tuple[int, bytes]:
    return 0xE2, b"ICC_PROFILE\0" + bytes([number, count]) + content


@pytest.mark.parametrize("count", [1, 2, 12, 255])
def test_profiles_of_many_parts(count: int) -> None:
    """ICC.1, B.4: numbers from 1 to the count, in a byte each."""
    parts = [icc(number, count, bytes([number])) for number in range(count, 0, -1)]
    assert apps(*parts).icc == bytes(range(1, count + 1))
    for left_out in {0, count - 1}:
        fewer = apps(*parts[:left_out], *parts[left_out + 1 :])
        assert fewer.icc is None
        missing = f"1 of {count} parts of the color profile are missing"
        assert fewer.icc_problem == (missing if count > 1 else None)
    extra = apps(*parts, icc(count + 1, count, b"x")) if count < 255 else None
    assert extra is None or extra.icc_problem == (
        "the parts of the color profile are numbered wrongly"
    )


@pytest.mark.parametrize(("most", "there"), [(4, True), (3, False)])
def test_the_largest_profile(most: int, there: bool) -> None:
    found = apps(icc(1, 2, b"ab"), icc(2, 2, b"cd"), limits=Limits(profile_bytes=most))
    assert found.icc == (b"abcd" if there else None)
    assert "damaged" in str(apps((0xE2, b"ICC_PROFILE\0\1")).icc_problem)
    assert apps((0xE1, icc(1, 1, b"ab")[1])).icc is None


@pytest.mark.parametrize("cut", [0, 1])
def test_heads_of_extended_xmp(cut: int) -> None:
    """XMP Specification Part 3, 1.1.3.1: 32 letters, a length and an offset of 4 bytes each."""
    name = b"http://ns.adobe.com/xmp/extension/\0"
    heads = [guid * 32 + struct.pack(">II", 9, offset) for guid, offset in ((b"a", 256), (b"b", 0), (b"a", 1))]  # fmt: skip
    parts = [(0xE1, name + head[: 40 - cut]) for head in heads]
    whole = [(0xE1, name + head + bytes([65 + at])) for at, head in enumerate(heads)]
    assert apps(*parts).xmp == (() if cut else (b"", b""))
    assert apps(*whole).xmp == (b"CA", b"B")
    other = b"a" * 31 + b"c" + struct.pack(">II", 9, 5) + b"D"
    assert apps(*whole, (0xE1, name + other)).xmp == (b"CA", b"B", b"D")
    assert apps(*[(0xE2, text) for _, text in whole]).xmp == ()


@pytest.mark.parametrize("marker", [0xE0, 0xE1, 0xE2, 0xEC, 0xED, 0xEE])
def test_names_belong_to_their_segments(marker: int) -> None:
    """Exif and XMP in APP1, image resources in APP13."""
    block = b"8BIM\x04\x04\0\0\0\0\0\4\x1c\2\x05\0"
    found = apps(
        (marker, b"Exif\0\0II*\0"),
        (marker, b"http://ns.adobe.com/xap/1.0/\0<x/>"),
        (marker, b"Photoshop 3.0\0" + block),
    )
    assert found.exif == (b"II*\0" if marker == 0xE1 else None)
    assert found.xmp == ((b"<x/>",) if marker == 0xE1 else ())
    assert found.iptc == (block[12:] if marker == 0xED else None)


def index(entries: list[tuple[int, int, int]], *, order: str = "<", at: int = 8, size: int | None = None, before: int = 0) -> bytes:  # fmt: skip
    """DC-007, 5.2: byte order, place of the directory, fields of 12 bytes, entries of 16 bytes."""
    rows = b"".join(struct.pack(order + "IIIHH", *entry, 7, 9) for entry in entries)
    fields = struct.pack(order + "HHII", 0xB000, 7, 4, 0x30313030) * before
    length = len(rows) if size is None else size
    place = at + 2 + 12 * (before + 1)
    head = (b"II" if order == "<" else b"MM") + struct.pack(order + "HI", 42, at)
    fields += struct.pack(order + "HHII", 0xB002, 7, length, place)
    return head.ljust(at, b"\0") + struct.pack(order + "H", before + 1) + fields + rows


ROWS = [(0x030000, 1000, 0), (0x010001, 200, 900), (0x010002, 70_000, 0x01020304), (0x020001, 5, 6)]


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize(("at", "before"), [(8, 0), (8, 1), (12, 3)])
def test_entries_of_the_index(order: str, at: int, before: int) -> None:
    """DC-007, 5.2.3.3: bits 16 to 23 tell a preview; offsets count from the byte order, 0 is the file."""
    found = _pictures(index(ROWS, order=order, at=at, before=before), 50)
    assert found == (
        Picture(0, 1000, False), Picture(950, 200, True), Picture(0x01020304 + 50, 70_000, True),
        Picture(56, 5, False),
    )  # fmt: skip


@pytest.mark.parametrize(("size", "count"), [(0, 0), (15, 0), (16, 1), (31, 1), (32, 2), (64, 4), (2**32 - 1, 4)])  # fmt: skip
def test_entries_are_whole(size: int, count: int) -> None:
    assert len(_pictures(index(ROWS, size=size), 50)) == count


@pytest.mark.parametrize("cut", range(1, 23))
def test_an_index_that_is_cut(cut: int) -> None:
    """The heading has 8 bytes, the directory 2 and its only field 12."""
    whole = index([])
    assert len(whole) == 22
    assert _pictures(whole[:-cut], 50) == ()
    assert _pictures(whole[:10] + b"\x01\xb0" + whole[12:], 50) == ()


def test_a_thousand_entries() -> None:
    """More than any camera bundles are not read."""
    assert len(_pictures(index([(0, 1, 1)] * 1000), 50)) == 1000
    assert len(_pictures(index([(0, 1, 1)] * 1001), 50)) == 1000


@pytest.mark.parametrize(
    ("zeros", "told"), [(0, False), (1, False), (4095, False), (4096, True), (5000, True)]
)
def test_zeros_behind_the_end_fill_a_block(zeros: int, told: bool) -> None:
    """Up to 4,095 zero bytes fill up a block of storage; common practice, no source."""
    problems = read(assembled() + bytes(zeros)).problems
    assert problems == ((f"{zeros:,} bytes follow the end of the picture: nothing but zero bytes",) if told else ()) or (told and len(problems) == 1)  # fmt: skip
    assert bool(read(assembled() + bytes(zeros) + b"x").problems)


def test_the_first_index_counts() -> None:
    data = [(0xE2, b"MPF\0" + index(ROWS[: 1 + at])) for at in (0, 1)]
    assert len(apps(*data).pictures) == 1
    assert len(apps(*data[::-1]).pictures) == 2
    assert apps((0xE1, data[0][1])).pictures == ()
    assert segment(0xE2, data[0][1])[4:8] == b"MPF\0"


def test_previews_of_the_index_are_other_pictures() -> None:
    """DC-007, 5.2.3.3: an entry with offset 0 is the file itself, whatever its type says."""
    small = b"\xff\xd8\xff\xd9"
    rows = [(0x010001, 99, 0), (0x010002, 4, 0), (0x020001, 4, 0)]
    size = len(assembled()) + 8 + len(index(rows)) - 10  # from the byte order to the end
    rows = [rows[0], (0x010002, 4, size), (0x020001, 4, size)]
    part = segment(0xE2, b"MPF\0" + index(rows))
    data = assembled()[:2] + part + assembled()[2:] + small
    header = read(data)
    assert (header.previews, header.frames, header.problems) == ((small,), 3, ())
