"""TIFF directories by hand (TIFF 6.0, sections named beside; the 64-bit form) at their borders."""

from __future__ import annotations

import struct

import pytest
from metadata_files import tiff

from pytest_webdeliverable.measure.headers import tiff as reader
from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.tiff_fields import TiffFile
from pytest_webdeliverable.measure.limits import Limits

SHORT, LONG, BYTE = 3, 4, 1
EARLY = "the file ends before the picture does"
BARE = {256: (SHORT, 4), 257: (SHORT, 3), 258: (SHORT, [8, 8, 8]), 262: (SHORT, 2), 277: (SHORT, 3)}
PACKED = BARE | {259: (SHORT, 5)}


def problems(fields: dict[int, tuple[int, object]], tail: bytes = bytes(36), **limits: int) -> tuple[str, ...]:  # fmt: skip
    data = tiff([fields], tail=tail)
    return reader.read(data, Limits(**limits) if limits else Limits()).problems


KINDS = {
    1: ("B", 200, 200.0), 2: ("B", 200, None), 3: ("H", 60_000, 60_000.0),
    4: ("I", 4_000_000_000, 4e9), 5: ("II", (3, 2), 1.5), 6: ("b", -100, None), 7: ("B", 200, None),
    8: ("h", -30_000, None), 9: ("i", -2_000_000_000, None), 10: ("ii", (3, 2), None),
    11: ("f", 1.5, 1.5), 12: ("d", 2.25, 2.25), 13: ("I", 4_000_000_000, None),
    16: ("Q", 2**63, None), 17: ("q", -1, None), 18: ("Q", 2**40, None), 14: ("B", 1, None), 0: ("B", 1, None),
}  # fmt: skip
"""Types of section 2, of technical note 1 (13) and of the 64-bit form (16 to 18): how they are stored."""


def directory(entries: list[tuple[int, int, int, bytes]], *, order: str, big: bool) -> bytes:
    """A file of one directory; values that do not fit stand behind it."""
    offset, count = ("Q", "Q") if big else ("I", "H")
    room, size = (8, 20) if big else (4, 12)
    at = (16 if big else 8) + struct.calcsize("=" + count) + size * len(entries) + room
    mark = b"II" if order == "<" else b"MM"
    head = struct.pack(order + ("HHHQ" if big else "HI"), *((43, 8, 0, 16) if big else (42, 8)))
    out, heap = mark + head + struct.pack(order + count, len(entries)), b""
    for tag, kind, many, value in entries:
        out += struct.pack(order + "HH" + offset, tag, kind, many)
        if len(value) <= room:
            out += value.ljust(room, b"\0")
        else:
            out += struct.pack(order + offset, at + len(heap))
            heap += value
    return out + bytes(room) + heap


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("big", [False, True])
@pytest.mark.parametrize("kind", KINDS)
def test_every_type(kind: int, big: bool, order: str) -> None:
    """What is a whole number without a sign, and what may be a resolution; section 2."""
    letters, value, measure = KINDS[kind]
    numbers = value if isinstance(value, tuple) else (value,)
    raw = struct.pack(order + letters, *numbers)
    data = directory([(1, kind, 1, raw), (2, kind, 2, raw * 2), (3, SHORT, 0, b"")], order=order, big=big)  # fmt: skip
    file = TiffFile(data)
    page = file.directory(file.first, 3)
    whole = kind in {1, 3, 4, 13, 16, 18}
    known = kind not in {0, 14}
    assert page.value(1) == (value if whole else None)
    assert page.values(2, 9) == ((value, value) if whole else ())
    assert page.values(2, 1) == ((value,) if whole else ())
    assert (page.value(3), page.measure(3), page.place(9)) == (None, None, (0, 0))
    expected = measure if kind in {3, 4, 5, 11, 12} else None
    assert page.measure(1) == page.measure(2) == expected
    assert page.tags == ({1, 2, 3} if known else {3})
    start, end = page.place(2)
    assert data[start:end] == (raw * 2 if known else b"")
    assert (page.count, file.cut) == (3, False)


@pytest.mark.parametrize("top", [(0, 0), (0, 1), (1, 0), (1, 1), (2**32 - 1, 1), (1, 2**32 - 1)])
def test_fractions(top: tuple[int, int]) -> None:
    file = TiffFile(directory([(1, 5, 1, struct.pack("<II", *top))], order="<", big=False))
    found = file.directory(file.first, 1).measure(1)
    assert found == (top[0] / top[1] if all(top) else None)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -1.0, 0.0])
def test_floats_that_are_no_measure(value: float) -> None:
    file = TiffFile(directory([(1, 12, 1, struct.pack("<d", value))], order="<", big=False))
    assert file.directory(file.first, 1).measure(1) is None


@pytest.mark.parametrize("kind", [SHORT, 5, 7])
def test_values_that_end_with_the_file_and_beyond_it(kind: int) -> None:
    raw = bytes([1, 0, 0, 0]) * 4 if kind == 5 else b"\1\0" * 5
    data = directory([(1, kind, {SHORT: 5, 5: 2, 7: 10}[kind], raw)], order="<", big=False)
    for cut in (0, 1):
        file = TiffFile(data[: len(data) - cut])
        page = file.directory(file.first, 1)
        start, end = page.place(1)
        assert (end - start, file.cut) == ((0, True) if cut else (len(raw), False))
    file = TiffFile(data[:-1])
    page = file.directory(file.first, 1)
    assert page.values(1, 5) == ()
    assert file.cut == (kind == SHORT)  # fractions and raw bytes are no whole numbers
    assert TiffFile(data[:-1]).directory(8, 1).values(1, 4) == ((1,) * 4 if kind == SHORT else ())


@pytest.mark.parametrize(("most", "read"), [(2, True), (1, False)])
def test_entries_of_a_directory(most: int, read: bool) -> None:
    """Of a repeated tag the first counts, and each counts as an entry."""
    entries = [(1, SHORT, 1, b"\1\0"), (1, SHORT, 1, b"\2\0")]
    file = TiffFile(directory(entries, order="<", big=False))
    if read:
        page = file.directory(file.first, most)
        assert (page.value(1), page.count) == (1, 2)
    else:
        with pytest.raises(DamagedError, match="claims 2 entries"):
            file.directory(file.first, most)


def test_numbers_at_the_end_of_the_file() -> None:
    file = TiffFile(b"II*\0\x08\0\0\0\1\2")
    assert (file.number(8, 2), file.number(9, 1)) == (0x0201, 2)
    with pytest.raises(DamagedError, match="ends before"):
        file.number(9, 2)
    assert TiffFile(b"MM\0*\0\0\0\x08\1\2").number(8, 2) == 0x0102


@pytest.mark.parametrize(
    ("more", "told"),
    [({278: (SHORT, 3), 273: (LONG, "tail"), 279: (LONG, 36)}, False),
     ({278: (SHORT, 2), 273: (LONG, [8, 8]), 279: (LONG, [9, 9])}, False),
     ({278: (SHORT, 2), 273: (LONG, 8), 279: (LONG, 9)}, True),
     ({278: (SHORT, 1), 273: (LONG, [8] * 3), 279: (LONG, [9] * 3)}, False),
     ({278: (SHORT, 1), 273: (LONG, [8] * 2), 279: (LONG, [9] * 2)}, True),
     ({278: (SHORT, 0), 273: (LONG, 8), 279: (LONG, 9)}, False),
     ({273: (LONG, 8), 279: (LONG, 9)}, False),
     ({284: (SHORT, 2), 273: (LONG, [8] * 3), 279: (LONG, [9] * 3)}, False),
     ({284: (SHORT, 2), 273: (LONG, [8] * 2), 279: (LONG, [9] * 2)}, True),
     ({284: (SHORT, 1), 273: (LONG, 8), 279: (LONG, 9)}, False),
     ({322: (SHORT, 4), 323: (SHORT, 3), 324: (LONG, 8), 325: (LONG, 9)}, False),
     ({322: (SHORT, 3), 323: (SHORT, 3), 324: (LONG, [8] * 2), 325: (LONG, [9] * 2)}, False),
     ({322: (SHORT, 3), 323: (SHORT, 3), 324: (LONG, 8), 325: (LONG, 9)}, True),
     ({322: (SHORT, 3), 323: (SHORT, 2), 324: (LONG, [8] * 4), 325: (LONG, [9] * 4)}, False),
     ({322: (SHORT, 3), 323: (SHORT, 2), 324: (LONG, [8] * 3), 325: (LONG, [9] * 3)}, True),
     ({284: (SHORT, 2), 322: (SHORT, 4), 323: (SHORT, 3), 324: (LONG, [8] * 3), 325: (LONG, [9] * 3)}, False),
     ({284: (SHORT, 2), 322: (SHORT, 4), 323: (SHORT, 3), 324: (LONG, [8] * 2), 325: (LONG, [9] * 2)}, True)],
)  # fmt: skip
def test_strips_and_tiles_that_a_picture_needs(more, told: bool) -> None:
    """Section 8 (RowsPerStrip, PlanarConfiguration) and 15 (tiles): 4 x 3 px of three samples."""
    assert problems(PACKED | more) == ((EARLY,) if told else ())


@pytest.mark.parametrize(("width", "height"), [(0, 3), (4, 0), (0, 0)])
def test_tiles_without_a_side(width: int, height: int) -> None:
    more = {322: (SHORT, width), 323: (SHORT, height), 324: (LONG, 8), 325: (LONG, 9)}
    assert problems(PACKED | more) == ("the file gives its tiles a size of 0",)


@pytest.mark.parametrize(("more", "told"), [({273: (LONG, 8)}, False), ({324: (LONG, 8)}, True), ({513: (LONG, 8)}, False), ({}, True)])  # fmt: skip
def test_where_pixels_may_stand(more, told: bool) -> None:
    """Strips, tiles with their sizes (without, there are none), or a whole JPEG (section 22)."""
    assert problems(PACKED | more) == (("the file holds no picture data",) if told else ())


@pytest.mark.parametrize("more", [0, 1])
@pytest.mark.parametrize("last", [False, True])
def test_strips_that_end_with_the_file(more: int, last: bool) -> None:
    start = len(tiff([PACKED | {278: (SHORT, 2), 273: (LONG, [0, 0]), 279: (LONG, [0, 0])}]))
    counts = [4, 6 + more] if last else [10 + more, 6]
    places = {278: (SHORT, 2), 273: (LONG, [start, start + 4]), 279: (LONG, counts)}
    assert problems(PACKED | places, bytes(10)) == ((EARLY,) if more else ())


@pytest.mark.parametrize(("compression", "told"), [(None, False), (1, False), (5, True), (2, True)])
@pytest.mark.parametrize(("size", "short"), [(36, False), (35, True)])
def test_counts_of_bare_pixels(compression, told, size, short) -> None:
    """Section 8: 4 x 3 px of three bytes are 36; a larger count does no harm, fewer bytes do."""
    fields = BARE | {273: (LONG, "tail"), 279: (LONG, 1000)}
    fields |= {} if compression is None else {259: (SHORT, compression)}
    assert problems(fields, bytes(size)) == ((EARLY,) if told or short else ())


@pytest.mark.parametrize(("bits", "size"), [([1], 3), ([4], 6), ([8], 12), ([16], 24)])
def test_bare_rows_are_whole_bytes(bits: list[int], size: int) -> None:
    """Section 8: rows begin at a byte; 4 samples of 1 bit take one."""
    fields = BARE | {258: (SHORT, bits), 262: (SHORT, 1), 277: (SHORT, 1)}
    fields |= {273: (LONG, "tail"), 279: (LONG, 1000)}
    assert problems(fields, bytes(size)) == ()
    assert problems(fields, bytes(size - 1)) == (EARLY,)


def test_the_number_of_strips(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reader, "TIFF_STRIPS", 3)
    fields = PACKED | {278: (SHORT, 1), 273: (LONG, [8] * 4), 279: (LONG, [9] * 4)}
    assert problems(fields) == ()
    with pytest.raises(DamagedError, match="4 strips or tiles"):
        problems(fields | {257: (SHORT, 4)})


@pytest.mark.parametrize("flags", range(8))
@pytest.mark.parametrize("first", [True, False])
def test_pages_that_are_previews_or_masks(flags: int, first: bool) -> None:
    """Section 8, NewSubfileType: bit 0 a reduced copy, bit 1 a page, bit 2 a mask."""
    page = PACKED | {273: (LONG, 8), 279: (LONG, 9)}
    marked = page | {254: (LONG, flags)}
    header = reader.read(tiff([marked, page] if first else [page, marked, page], tail=bytes(9)))
    assert header.frames == (1 if first else 2) + (flags & 0b101 == 0)
    assert header.exif is not None  # a later page may hold anything


def test_a_mask_alone_is_a_page() -> None:
    fields = PACKED | {254: (LONG, 4), 273: (LONG, 8), 279: (LONG, 9)}
    assert reader.read(tiff([fields], tail=bytes(9))).frames == 1


@pytest.mark.parametrize(
    ("photometric", "samples", "inks", "mode"),
    [(5, 4, None, "cmyk"), (5, 5, 1, "cmyk"), (5, 4, 2, "other"), (5, 3, None, "other"), (5, 4, 1, "cmyk"),
     (7, 3, None, "other"), (2, 1, 2, "rgb"), (0, 1, None, "gray"), (4, 1, None, "gray")],
)  # fmt: skip
def test_inks(photometric: int, samples: int, inks: int | None, mode: str) -> None:
    """Section 16: separated pictures are CMYK unless InkSet is 2; fewer than four inks are not."""
    fields = PACKED | {262: (SHORT, photometric), 277: (SHORT, samples), 273: (LONG, 8), 279: (LONG, 9)}  # fmt: skip
    fields |= {} if inks is None else {332: (SHORT, inks)}
    assert reader.read(tiff([fields], tail=bytes(9))).mode == mode


@pytest.mark.parametrize("length", [3, 4, 8, 9])
@pytest.mark.parametrize("first", [b"\x1c", b"\x02"])
def test_iptc_whose_bytes_were_turned_round(length: int, first: bytes) -> None:
    """IIM begins with 0x1C; stored as numbers of the other order, the fourth byte has it."""
    stored = (first + b"\2\x78\x1c" + b"abcdefgh")[:length]
    data = tiff([PACKED | {273: (LONG, 8), 279: (LONG, 9), 33723: (7, stored)}], tail=bytes(9))
    turned = first != b"\x1c" and length in {4, 8}
    whole = b"".join(stored[at : at + 4][::-1] for at in range(0, length, 4))
    assert reader.read(data).iptc == (whole if turned else stored)


@pytest.mark.parametrize(("tag", "told"), [(324, True), (325, True), (273, False), (279, False)])
def test_tiles_rather_than_strips_are_looked_for(tag: int, told: bool) -> None:
    """Section 15: TileOffsets and TileByteCounts stand for StripOffsets and StripByteCounts."""
    places = {324: (LONG, 8), 325: (LONG, 9), 273: (LONG, 8), 279: (LONG, 9)}
    sides = {322: (SHORT, 4), 323: (SHORT, 3)}
    assert problems(PACKED | sides | places | {tag: (LONG, 99_999)}) == ((EARLY,) if told else ())


@pytest.mark.parametrize("samples", [None, 1])
def test_one_sample_where_nothing_is_said(samples: int | None) -> None:
    """Section 8: SamplesPerPixel is 1 by default, PlanarConfiguration then says nothing."""
    fields = BARE | {258: (SHORT, 8), 262: (SHORT, 1), 284: (SHORT, 2), 273: (LONG, "tail"), 279: (LONG, 99)}  # fmt: skip
    del fields[277]
    fields |= {} if samples is None else {277: (SHORT, samples)}
    assert problems(fields, bytes(12)) == ()
    assert problems(fields, bytes(11)) == (EARLY,)
    inks = fields | {262: (SHORT, 5)}
    assert reader.read(tiff([inks], tail=bytes(12))).mode == "other"


def test_a_later_page_without_a_size() -> None:
    page = PACKED | {273: (LONG, 8), 279: (LONG, 9)}
    without = {tag: value for tag, value in page.items() if tag != 257}
    assert reader.read(tiff([page, without], tail=bytes(9))).problems == ()


@pytest.mark.parametrize(("most", "told"), [(6, True), (5, False), (4, False)])
def test_strips_of_later_pages_count_together(most: int, told: bool, monkeypatch: pytest.MonkeyPatch) -> None:  # fmt: skip
    """Two strips a page: the third page is not looked at beyond what may be checked."""
    monkeypatch.setattr(reader, "TIFF_STRIPS", most)
    page = PACKED | {278: (SHORT, 2), 273: (LONG, [8, 8]), 279: (LONG, [9, 9])}
    cut = page | {273: (LONG, [8, 99_999])}
    header = reader.read(tiff([page, page, cut], tail=bytes(9)))
    assert (header.frames, header.problems) == (3, (EARLY,) if told else ())


@pytest.mark.parametrize(("most", "told"), [(16, True), (15, False), (8, False)])
def test_entries_of_later_pages_count_together(most: int, told: bool) -> None:
    """Eight entries a page, of which those of the first have a limit of their own."""
    page = PACKED | {273: (LONG, 8), 279: (LONG, 9)}
    assert len(page) == 8
    cut = page | {273: (LONG, 99_999)}
    data = tiff([page, page, cut], tail=bytes(9))
    assert reader.read(data, Limits(ifd_entries=most)).problems == ((EARLY,) if told else ())
    early = tiff([page, cut, page], tail=bytes(9))
    assert reader.read(early, Limits(ifd_entries=most)).problems == (EARLY,)
