"""Parts of picture files at the edge of what their standards and our limits allow."""

from __future__ import annotations

import struct
import zlib
from types import SimpleNamespace

import pytest
from header_files import FTYP, anmf, avif, box, ispe, riff_chunk, vp8l, vp8x, webp
from jpegs import saved, segment, with_segments

from pytest_webdeliverable.measure.headers import avif as avif_reader
from pytest_webdeliverable.measure.headers import jpeg, jpeg_quality
from pytest_webdeliverable.measure.headers import webp as webp_reader
from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.jpeg_entropy import block_grid
from pytest_webdeliverable.measure.headers.jpeg_tables import (
    K1_LUMINANCE,
    K2_CHROMINANCE,
    ZIGZAG,
)
from pytest_webdeliverable.measure.headers.reading import (
    Allowance,
    UnpackError,
    bytes_behind,
    image_resources,
    previews_in_resources,
)
from pytest_webdeliverable.measure.headers.tiff import _depth, _has_alpha, _photometric
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits

# JPEG


@pytest.mark.parametrize("quality", range(1, 101))
def test_tables_scale_as_libjpeg_does(quality: int) -> None:
    """What Pillow's libjpeg writes at each quality, in file order, read back by our own scale."""
    tables = [list(table) for table in _written_tables(quality)]
    for base, table in ((K1_LUMINANCE, tables[0]), (K2_CHROMINANCE, tables[1])):
        scaled = jpeg_quality.scaled(base, quality)
        assert [scaled[at] for at in ZIGZAG] == table


def _written_tables(quality: int) -> list[bytes]:
    data = saved(quality=quality)
    found, at = [], data.index(b"\xff\xdb")
    while data[at + 1] == 0xDB:
        size = int.from_bytes(data[at + 2 : at + 4], "big")
        body = data[at + 4 : at + 2 + size]
        found += [body[start + 1 : start + 65] for start in range(0, len(body), 65)]
        at += 2 + size
    return found


def test_two_components_tell_no_chroma() -> None:
    """Three components carry color (JFIF); a second alone may be anything."""
    table = tuple(_written_tables(80)[0])
    assert jpeg_quality.read_quality([table, table])["chroma"] is None
    assert jpeg_quality.read_quality([table] * 3)["chroma"] == 80
    assert jpeg_quality.read_quality([]) is None
    assert jpeg_quality.read_quality([table[:63]]) is None
    assert jpeg_quality.read_quality([(*table[:63], 0)]) is None


@pytest.mark.parametrize(("fill", "read"), [(1024, True), (1025, False)])
def test_fill_bytes_in_a_row(fill: int, read: bool) -> None:
    """T.81, B.1.1.2: any number of 0xFF may stand before a marker; ours is 1,024."""
    data = saved()
    longer = data[:2] + b"\xff" * fill + data[2:]
    if read:
        assert jpeg.read(longer).width == 160
    else:
        with pytest.raises(DamagedError, match="1,025 fill bytes"):
            jpeg.read(longer)


@pytest.mark.parametrize(
    ("size", "preview"),
    [((1, 1), b"rgb"), ((2, 1), b"rgbRGB"), ((2, 1), b"rgbRG"), ((0, 9), b"rgb")],
)
def test_a_small_preview_of_plain_samples(size: tuple[int, int], preview: bytes) -> None:
    """ITU-T T.871, 10.1: width, height, and three bytes a pixel in the JFIF segment."""
    data = saved()
    jfif = segment(0xE0, b"JFIF\0\1\1" + struct.pack(">BHHBB", 1, 72, 72, *size) + preview)
    found = jpeg.read(data[:2] + jfif + data[data.index(b"\xff\xdb") :]).previews
    needed = 3 * size[0] * size[1]
    whole = 0 < needed <= len(preview)
    assert found == ((b"P6 %d %d 255\n" % size + preview[:needed],) if whole else ())


def test_parts_of_extended_xmp_in_any_order() -> None:
    """XMP Specification Part 3, 1.1.3.1: GUID of 32 letters, length and offset in 4 bytes each."""
    name, guid = b"http://ns.adobe.com/xmp/extension/\0", b"G" * 32
    parts = [(70_000, b"third"), (0, b"first"), (300, b"second")]
    data = saved(xmp=b"<standard/>")
    at = data.index(b"\xff\xdb")
    extended = b"".join(
        segment(0xE1, name + guid + struct.pack(">II", 70_005, offset) + text)
        for offset, text in parts
    )
    assert jpeg.read(data[:at] + extended + data[at:]).xmp[-1] == b"firstsecondthird"


@pytest.mark.parametrize(
    ("width", "height", "factors", "parts", "unit", "grid"),
    [
        (160, 120, [(2, 2), (1, 1)], 2, 8, (10, 8)),  # units of 16 x 16
        (161, 113, [(2, 2), (1, 1)], 2, 8, (11, 8)),
        (161, 113, [(2, 2), (1, 1)], 1, 8, (21, 15)),  # the first alone: blocks of 8 x 8
        (161, 113, [(1, 1), (2, 2)], 1, 8, (11, 8)),  # 81 x 57 samples
        (161, 113, [(2, 1), (1, 1)], 2, 8, (11, 15)),
        (161, 113, [(1, 1)], 1, 1, (161, 113)),
        (5, 7, [(2, 1), (1, 1)], 2, 1, (3, 7)),
    ],
)
def test_units_of_a_scan_by_hand(width, height, factors, parts, unit, grid) -> None:
    """ITU-T T.81, A.1.1 and A.2: one component alone has units of one block."""
    components = [SimpleNamespace(h=h, v=v) for h, v in factors]
    frame = SimpleNamespace(width=width, height=height, components=components)
    scan = SimpleNamespace(parts=[SimpleNamespace(component=one) for one in components[:parts]])
    assert block_grid(scan, frame, unit) == grid


# Resources, allowances


def resource(number: int, data: bytes, name: bytes = b"") -> bytes:
    heading = b"8BIM" + struct.pack(">HB", number, len(name)) + name
    heading += b"\0" * (len(heading) % 2)
    return heading + struct.pack(">I", len(data)) + data + b"\0" * (len(data) % 2)


def test_resources_one_behind_the_other() -> None:
    """Names and data are padded to even lengths."""
    parts = [(1028, b"odd"), (5, b""), (7, b"even"), (9, b"x")]
    names = [b"", b"n", b"na", b""]
    block = b"".join(resource(number, data, name) for (number, data), name in zip(parts, names, strict=True))  # fmt: skip
    assert list(image_resources(block)) == parts
    assert list(image_resources(block[:-13])) == parts[:-1]  # 14 bytes, of which one is there
    assert list(image_resources(resource(3, b""))) == [(3, b"")]
    assert list(image_resources(resource(3, b"")[:-1])) == []


@pytest.mark.parametrize(("number", "found"), [(1033, True), (1036, True), (1034, False)])
def test_previews_in_resources(number: int, found: bool) -> None:
    """Resources 1033 and 1036: 28 bytes of heading, then a JPEG."""
    picture = b"\xff\xd8\xff" + bytes(9)
    block = resource(number, bytes(28) + picture)
    assert previews_in_resources(block) == ((picture,) if found else ())
    assert previews_in_resources(resource(number, bytes(27) + picture)) == ()


def test_allowances_at_their_end() -> None:
    packed = zlib.compress(b"x" * 100)
    allowance = Allowance(Limits(metadata_bytes=100, profile_bytes=100))
    assert allowance.inflate_profile(packed) == b"x" * 100
    assert allowance.inflate(packed) == b"x" * 100
    assert allowance.take(b"abc", 1, 1) == b""
    with pytest.raises(DamagedError, match="of metadata"):
        allowance.take(b"abc", 1, 2)
    tight = Allowance(Limits(metadata_bytes=99, profile_bytes=99))
    with pytest.raises(UnpackError, match="is larger than"):
        tight.inflate_profile(packed)
    with pytest.raises(DamagedError, match="of metadata"):
        tight.inflate(packed)
    with pytest.raises(UnpackError, match="is incomplete"):
        Allowance(DEFAULT_LIMITS).inflate(packed[:-1])
    assert tight.profile(bytes(300), 100, 199) == (bytes(99), None)
    assert "larger than" in tight.profile(bytes(300), 100, 200)[1]
    assert tight.profile(b"abc", 1, 1) == (None, "the color profile is empty")


def test_bytes_behind_the_end() -> None:
    assert bytes_behind(1) == "1 byte follows the end of the picture"
    assert bytes_behind(2000) == "2,000 bytes follow the end of the picture"


# WebP


@pytest.mark.parametrize(("size", "sound"), [(20, True), (70_000, True), (70_001, False)])
def test_the_first_part_of_lossy_data_lies_within_it(size: int, sound: bool) -> None:
    """RFC 6386, 9.1: 19 bits of size behind four flags; the first bit is 0 in a key frame."""
    tag = (size << 5 | 0x10).to_bytes(3, "little")
    body = tag + b"\x9d\x01\x2a" + struct.pack("<HH", 4, 3)
    data = webp(riff_chunk(b"VP8 ", body + bytes(70_000 - len(body))))
    assert (webp_reader.read(data).problems == ()) == sound


@pytest.mark.parametrize(
    ("place", "inside"),
    [((0, 0, 4, 3), True), ((2, 0, 2, 3), True), ((2, 0, 3, 3), False), ((0, 2, 4, 1), True),
     ((0, 2, 4, 2), False)],
)  # fmt: skip
def test_frames_lie_on_the_canvas(place: tuple[int, int, int, int], inside: bool) -> None:
    data = webp(vp8x(0x02), riff_chunk(b"ANIM", bytes(6)), anmf(*place))
    assert (webp_reader.read(data).problems == ()) == inside


@pytest.mark.parametrize(("width", "height"), [(1, 1), (16_384, 1), (3, 16_384), (513, 257)])
def test_sizes_of_lossless_data(width: int, height: int) -> None:
    """RFC 9649, 3.4: 14 bits each, less one."""
    header = webp_reader.read(webp(vp8l(width, height)))
    assert (header.width, header.height, header.alpha) == (width, height, False)


@pytest.mark.parametrize(("width", "height"), [(1, 1), (70_000, 3), (4, 65_537)])
def test_sizes_of_the_canvas(width: int, height: int) -> None:
    """RFC 9649, 2.7: 24 bits each, less one."""
    data = webp(vp8x(0x02, width, height), riff_chunk(b"ANIM", bytes(6)), anmf(0, 0, 1, 1))
    header = webp_reader.read(data)
    assert (header.width, header.height) == (width, height)


# AVIF


@pytest.mark.parametrize("essential", [0, 1])
@pytest.mark.parametrize("wide", [False, True])
def test_properties_that_a_reader_must_know(essential: int, wide: bool) -> None:
    """ISO/IEC 23008-12, 9.3: indexes of 7 or, by a flag, 15 bits, the upper bit says "essential"."""
    properties = (ispe(9, 7), box(b"av1C", b"\x81\x00\x0c\x00"))
    data = avif(properties=properties)
    table = data.index(b"ipma") - 4
    size = struct.unpack_from(">I", data, table)[0]
    entry = struct.pack(">IHB", 1, 1, 2)
    for index in (1, 2):
        entry += struct.pack(">H" if wide else "B", index | essential << (15 if wide else 7))
    changed = data[:table] + box(b"ipma", entry, full=int(wide)) + data[table + size :]
    if wide:  # two bytes more in each box around it
        changed = bytearray(changed)
        for kind in (b"iprp", b"meta"):
            at = changed.index(kind) - 4
            struct.pack_into(">I", changed, at, struct.unpack_from(">I", changed, at)[0] + 2)
        changed = bytes(changed)
    assert data.startswith(FTYP)
    header = avif_reader.read(changed)
    assert (header.width, header.height) == (9, 7)


# TIFF


class Page:
    """Values by tag, each as a tuple."""

    def __init__(self, **fields: tuple[int, ...]) -> None:
        self.fields = {int(name[1:]): values for name, values in fields.items()}

    def value(self, tag: int) -> int | None:
        return self.fields.get(tag, (None,))[0]

    def values(self, tag: int, most: int) -> tuple[int, ...]:
        return self.fields.get(tag, ())[:most]


@pytest.mark.parametrize(
    ("fields", "photometric"),
    [({}, 1), ({"t277": (1,)}, 1), ({"t277": (2,)}, 1), ({"t277": (3,)}, 2), ({"t277": (4,)}, 2),
     ({"t262": (0,), "t277": (3,)}, 0)],
)  # fmt: skip
def test_colors_where_the_file_does_not_say(fields, photometric) -> None:
    """Common practice, no source: three samples are RGB, fewer are gray, black as 0."""
    assert _photometric(Page(**fields)) == photometric


def test_depth_and_alpha_of_samples() -> None:
    """TIFF 6.0, section 8 (BitsPerSample, 1 by default) and section 18 (ExtraSamples)."""
    assert _depth(Page()) == 1
    assert _depth(Page(t258=(5, 6, 5))) == 6
    assert _has_alpha(Page(t338=(1,)), 2, 4)
    assert _has_alpha(Page(t338=(2,)), 1, 2)
    assert not _has_alpha(Page(t338=(0,)), 2, 4)
    assert _has_alpha(Page(), 2, 4)
    assert not _has_alpha(Page(), 5, 4)
    assert not _has_alpha(Page(), 2, 3)


def test_stray_bytes_between_segments() -> None:
    """As many as fill bytes are put up with, all together."""
    data = saved()
    assert jpeg.read(data[:2] + bytes(1024) + data[2:]).width == 160
    with pytest.raises(DamagedError, match="garbled"):
        jpeg.read(data[:2] + bytes(1025) + data[2:])
    assert jpeg.read(with_segments(data, segment(0xFE, b"c") + b"\0")).width == 160


def test_the_quality_of_other_tables_follows_their_sum() -> None:
    """Annex K.1 turned round has its sum, which is quality 50; half of it is 75, twice it 25."""
    turned = K1_LUMINANCE[::-1]
    for factor, quality in ((1, 50.0), (2, 25.0)):
        table = tuple(turned[at] * factor for at in ZIGZAG)
        found = jpeg_quality.read_quality([table])
        assert (found["luma"], found["exact"]) == (quality, False)
    even = tuple(turned[at] // 2 + at % 2 for at in ZIGZAG)
    estimate = (200 - 100 * sum(even) / sum(K1_LUMINANCE)) / 2
    assert jpeg_quality.read_quality([even])["luma"] == pytest.approx(estimate, abs=0.051)


@pytest.mark.parametrize(("entry", "quality"), [(2, 98.3), (9, 92.2), (57, 50.5), (58, 49.7), (575, 5.0), (2877, 1.0), (65_535, 1.0)])  # fmt: skip
def test_the_quality_of_even_tables(entry: int, quality: float) -> None:
    """64 equal entries against a sum of 3,688 in K.1; by libjpeg's formula, but 1 at least.

    57: 98.92 % of it, (200 - 98.92) / 2 = 50.54; 58: 100.65 %, 5000 / 100.65 = 49.68.
    """
    assert sum(K1_LUMINANCE) == 3688
    assert jpeg_quality.read_quality([(entry,) * 64])["luma"] == quality
