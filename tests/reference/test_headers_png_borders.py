"""PNG by the tables of its standard (W3C PNG, Third Edition): what is allowed, and what is next to it."""

from __future__ import annotations

import struct
import zlib
from itertools import product

import pytest
from header_files import PNG_START, chunk, fctl, fdat, ihdr, pixels, png
from PIL import Image

from pytest_webdeliverable.measure.headers import png as reader
from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.png_data import holds, unpacked_size
from pytest_webdeliverable.measure.limits import Limits

END = chunk(b"IEND")
ALLOWED = {(0, depth) for depth in (1, 2, 4, 8, 16)} | {(3, depth) for depth in (1, 2, 4, 8)}
ALLOWED |= {(kind, depth) for kind in (2, 4, 6) for depth in (8, 16)}
"""Color type and bit depth, section 11.2.1."""
CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}


def raw_ihdr(width=4, height=3, depth=8, kind=2, packing=0, filtering=0, interlace=0):
    return chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, kind, packing, filtering, interlace))  # fmt: skip


@pytest.mark.parametrize(("kind", "depth"), list(product(range(8), (0, 1, 2, 3, 4, 8, 16, 32))))
def test_color_types_and_depths(kind, depth):
    if (kind, depth) not in ALLOWED:
        with pytest.raises(DamagedError, match="values that PNG does not know"):
            reader.read(PNG_START + raw_ihdr(depth=depth, kind=kind) + pixels() + END)
        return
    row = (4 * CHANNELS[kind] * depth + 7) // 8
    data = chunk(b"IDAT", zlib.compress(bytes((1 + row) * 3)))
    palette = chunk(b"PLTE", b"rgb") if kind == 3 else b""
    header = reader.read(PNG_START + raw_ihdr(depth=depth, kind=kind) + palette + data + END)
    assert header.problems == ()
    assert header.bits == (8 if kind == 3 else depth)
    assert (header.mode == "gray") == (kind in {0, 4})
    assert header.alpha == (kind in {4, 6})
    assert header.indexed == (kind == 3)
    short = chunk(b"IDAT", zlib.compress(bytes((1 + row) * 3 - 1)))
    cut = reader.read(PNG_START + raw_ihdr(depth=depth, kind=kind) + palette + short + END)
    assert cut.problems == ("the file ends before the picture does",)


@pytest.mark.parametrize(
    ("fields", "known"),
    [({"packing": 1}, False), ({"filtering": 1}, False), ({"interlace": 1}, True), ({"interlace": 2}, False)],
)  # fmt: skip
def test_methods_of_the_image_header(fields, known):
    data = PNG_START + raw_ihdr(**fields) + pixels() + END
    if known:
        assert reader.read(data).width == 4
    else:
        with pytest.raises(DamagedError, match="values that PNG does not know"):
            reader.read(data)


@pytest.mark.parametrize(("width", "height"), [(0, 3), (4, 0), (2**31, 3), (4, 2**31)])
def test_sizes_that_cannot_be(width, height):
    with pytest.raises(DamagedError, match="impossible size"):
        reader.read(PNG_START + raw_ihdr(width, height) + pixels() + END)


def test_the_largest_size():
    """2^31 - 1 a side; too many pixels to be decoded are not counted."""
    header = reader.read(PNG_START + raw_ihdr(2**31 - 1, 2**31 - 1) + pixels() + END)
    assert (header.width, header.height, header.problems) == (2**31 - 1, 2**31 - 1, ())


@pytest.mark.parametrize(("limit", "counted"), [(12, True), (11, False)])
def test_rows_are_counted_up_to_the_limit_of_pixels(limit, counted):
    short = PNG_START + ihdr() + chunk(b"IDAT", zlib.compress(b"few")) + END
    assert bool(reader.read(short, Limits(pixels=limit)).problems) == counted


@pytest.mark.parametrize(("limit", "fits"), [(3, True), (2, False)])
def test_the_number_of_chunks(limit, fits):
    if fits:
        assert reader.read(png(), Limits(png_chunks=limit)).problems == ()
    else:
        with pytest.raises(DamagedError, match="more than 2 chunks"):
            reader.read(png(), Limits(png_chunks=limit))


SIGNALS = {
    b"sRGB": (b"\1", lambda header: header.signals.srgb_intent, 1),
    b"gAMA": (struct.pack(">I", 45_455), lambda header: header.signals.gamma, 0.45455),
    b"cICP": (bytes([1, 13, 0, 1]), lambda header: header.signals.cicp, (1, 13, 0, 1)),
    b"cHRM": (struct.pack(">8I", *range(1, 9)), lambda header: header.signals.chromaticities,
              tuple(number / 100_000 for number in range(1, 9))),
    b"pHYs": (struct.pack(">IIB", 2835, 0, 1),
              lambda header: header.densities and (header.densities[0].x, header.densities[0].y),
              (pytest.approx(72.009), None)),
}  # fmt: skip


@pytest.mark.parametrize("name", SIGNALS)
@pytest.mark.parametrize("more", [-1, 0, 1])
def test_chunks_of_a_wrong_size_say_nothing(name, more):
    """Sections 11.3.2 and 11.3.4.3: gamma and x, y in 100,000ths, pixels per meter."""
    body, said, value = SIGNALS[name]
    body = body[:more] if more < 0 else body + bytes(more)
    found = said(reader.read(png(chunk(name, body))))
    assert found == value if more == 0 else found in (None, ())


@pytest.mark.parametrize("name", SIGNALS)
def test_chunks_behind_the_pixels_say_nothing(name):
    body, said, _ = SIGNALS[name]
    assert said(reader.read(png(after=(chunk(name, body),)))) in (None, ())


@pytest.mark.parametrize(
    ("entries", "told"),
    [(b"\xff" * 256, False), (b"\xff" * 255 + b"\xfe", True), (b"\xff" * 300, False)],
)
def test_entries_of_a_color_table_that_are_see_through(entries, told):
    data = chunk(b"IDAT", zlib.compress(bytes(15)))
    body = raw_ihdr(kind=3) + chunk(b"PLTE", b"rgb" * 256) + chunk(b"tRNS", entries) + data
    assert reader.read(PNG_START + body + END).alpha == told


@pytest.mark.parametrize(
    ("kind", "palette", "sizes"),
    [(0, 0, {2}), (2, 0, {6}), (2, 2, {6}), (3, 1, {1}), (3, 3, {1, 2, 3}), (4, 0, set()),
     (6, 0, set())],
)  # fmt: skip
def test_sizes_of_transparency(kind: int, palette: int, sizes: set[int]) -> None:
    """Section 11.3.1.1: one or three samples of 2 bytes, or a byte for each of the first colors."""
    table = chunk(b"PLTE", b"rgb" * palette) if palette else b""
    body = pixels(samples=CHANNELS[kind])
    for size in range(8):
        parts = (raw_ihdr(kind=kind), table, chunk(b"tRNS", bytes(size)), body, END)
        header = reader.read(PNG_START + b"".join(parts))
        assert header.problems == (() if size in sizes else ("the transparency (tRNS) is damaged",))
        if size in sizes:
            assert header.alpha


def test_transparency_before_the_color_table_is_damaged() -> None:
    """Section 5.6: behind PLTE, since readers do not know yet what it is about."""
    parts = (chunk(b"tRNS", b"\0"), chunk(b"PLTE", b"rgb"), pixels(samples=1), END)
    header = reader.read(PNG_START + raw_ihdr(kind=3) + b"".join(parts))
    assert header.problems == ("the transparency (tRNS) is damaged",)


@pytest.mark.parametrize(("letters", "read"), [(0, True), (1, True), (79, True), (80, False)])
@pytest.mark.parametrize("before", [b"", b"x" * 200])
def test_the_name_of_a_profile(letters: int, read: bool, before: bytes) -> None:
    """Section 11.3.2.3: a name of up to 79 letters, a zero byte, method 0."""
    profile = b"n" * letters + b"\0\0" + zlib.compress(b"profile")
    header = reader.read(png(chunk(b"teXt", before), chunk(b"iCCP", profile)))
    assert header.icc == (b"profile" if read else None)
    assert (header.icc_problem is None) == read
    other = reader.read(png(chunk(b"iCCP", profile.replace(b"\0\0", b"\0\1", 1))))
    assert other.icc_problem == "the color profile has no readable heading"


@pytest.mark.parametrize(("x", "y"), [(1, 2), (2, 1), (0, 2835), (2835, 0), (2**32 - 1, 3)])
@pytest.mark.parametrize("unit", [0, 1, 2])
def test_pixels_per_meter(x: int, y: int, unit: int) -> None:
    """Section 11.3.4.3: unit 1 is the meter, of which an inch has 0.0254."""
    (found,) = reader.read(png(chunk(b"pHYs", struct.pack(">IIB", x, y, unit)))).densities
    expected = [value * 254 / 10_000 if value and unit == 1 else None for value in (x, y)]
    assert [found.x, found.y] == [one if one is None else pytest.approx(one) for one in expected]


@pytest.mark.parametrize(("size", "sound"), [(3, True), (768, True), (771, False), (0, False), (4, False)])  # fmt: skip
def test_sizes_of_a_color_table(size, sound):
    data = chunk(b"IDAT", zlib.compress(bytes(15)))
    header = reader.read(PNG_START + raw_ihdr(kind=3) + chunk(b"PLTE", bytes(size)) + data + END)
    assert (header.problems == ()) == sound


@pytest.mark.parametrize(
    ("place", "inside"),
    [((4, 3, 0, 0), True), ((1, 1, 3, 2), True), ((2, 1, 3, 2), False), ((1, 2, 3, 2), False),
     ((0, 1, 0, 0), False), ((1, 0, 0, 0), False)],
)  # fmt: skip
def test_frames_lie_within_the_picture(place, inside):
    control = chunk(b"acTL", struct.pack(">II", 2, 0))
    parts = [control, fctl(0), pixels(), fctl(1, *place), fdat(2)]
    header = reader.read(PNG_START + ihdr() + b"".join(parts) + END)
    assert header.frames == 2
    assert (header.problems == ()) == inside


@pytest.mark.parametrize("size", [25, 27, 3])
def test_a_frame_of_a_wrong_size_is_damaged(size):
    body = fctl(0)[8:-4].ljust(27, b"\0")[:size]
    control = chunk(b"acTL", struct.pack(">II", 1, 0))
    header = reader.read(PNG_START + ihdr() + control + chunk(b"fcTL", body) + pixels() + END)
    assert "a frame of the animation is damaged" in header.problems


def test_chunk_names_and_sizes():
    """Names are four letters; sizes run to 2^31 - 1 (section 5.3)."""
    start = PNG_START + ihdr()
    for wrong in (b"\0\0\0\0ab1d", struct.pack(">I", 2**31) + b"abcd"):
        found = reader.read(start + wrong + bytes(20) + pixels() + END)
        assert any("no chunk begins there" in text for text in found.problems)
    large = struct.pack(">I", 2**31 - 1) + b"abcd" + bytes(20)
    assert "the file ends before the picture does" in reader.read(start + pixels() + large).problems


@pytest.mark.parametrize(("interlaced", "mode"), [(False, "L"), (False, "RGB"), (True, "L")])
@pytest.mark.parametrize("size", [(1, 1), (5, 7), (8, 8), (17, 3), (16, 16), (29, 45)])
def test_unpacked_sizes_are_those_of_the_stream(size, interlaced, mode):
    """Row by row by hand: a filter byte before each, and for interlaced pictures in seven passes."""
    width, height = size
    bits = 8 * len(mode)
    steps = [(0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2)]  # fmt: skip
    total = 0
    for left, top, across, down in steps if interlaced else [(0, 0, 1, 1)]:
        columns = len(range(left, width, across))
        for _ in range(top, height, down):
            total += 1 + columns * bits // 8 if columns else 0
    assert unpacked_size(width, height, bits, interlaced=interlaced) == total
    assert Image.new(mode, size).size == size


def test_streams_longer_than_a_step():
    """Two million bytes, of which each piece unpacks in several steps."""
    packed = zlib.compress(bytes(2_100_000))
    assert holds(packed, [(0, len(packed))], 2_100_000)
    assert not holds(packed, [(0, len(packed))], 2_100_001)
    middle = len(packed) // 2
    assert holds(packed, [(0, middle), (middle, len(packed))], 2_100_000)
    assert not holds(packed, [(0, middle)], 2_100_000)


def test_one_entry_of_transparency_too_many() -> None:
    """Sections 11.2.2 and 11.3.1.1: 256 colors at most, and no more entries than colors."""
    for size, sound in ((256, True), (257, False)):
        parts = (chunk(b"PLTE", b"rgb" * 256), chunk(b"tRNS", bytes(size)), pixels(samples=1), END)
        found = reader.read(PNG_START + raw_ihdr(kind=3) + b"".join(parts)).problems
        assert (found == ()) == sound


@pytest.mark.parametrize(("width", "height"), [(1, 1), (1, 2), (2, 1)])
def test_the_smallest_sizes(width: int, height: int) -> None:
    header = reader.read(PNG_START + raw_ihdr(width, height) + pixels(width, height) + END)
    assert (header.width, header.height, header.problems) == (width, height, ())
