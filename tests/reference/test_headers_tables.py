"""Tables of AVIF items in every version, and blocks of GIF at their edges, written by hand."""

from __future__ import annotations

import struct

import pytest
from header_files import GIF_CONTROL, GIF_FRAME, application, box, gif, sub_blocks

from pytest_webdeliverable.measure.headers import gif as gif_reader
from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.boxes import Box, BoxFile, Items

EARLY = "the file ends before the picture does"


def items(*tables: bytes) -> Items:
    data = box(b"meta", *tables, full=0)
    return Items(BoxFile(data), Box(b"meta", 8, len(data)))


def number(value: int, size: int) -> bytes:
    return value.to_bytes(size, "big") if size else b""


@pytest.mark.parametrize("version", [0, 1, 2])
@pytest.mark.parametrize("sizes", [(4, 4, 0, 0), (8, 8, 8, 8), (0, 4, 4, 4), (4, 8, 4, 0)])
def test_places_of_items(version: int, sizes: tuple[int, int, int, int]) -> None:
    """ISO/IEC 14496-12, 8.11.3: sizes of offset, length, base and, from version 1, index."""
    offset, length, base, index = sizes
    wide = 4 if version == 2 else 2
    extents = [(7 if offset else 0, 3), (20 if offset else 0, 5)]
    body = bytes([offset << 4 | length, base << 4 | (index if version else 0)]) + number(1, wide)
    body += number(9, wide) + (number(0, 2) if version else b"") + number(0, 2) + number(100, base)
    body += number(len(extents), 2)
    for start, size in extents:
        body += (
            (number(1, index) if version else b"") + number(start, offset) + number(size, length)
        )
    found = items(box(b"iloc", body, full=version << 24)).by_id[9]
    origin = 100 if base else 0
    assert found.extents == [(origin + start, size) for start, size in extents]
    assert not found.in_idat


@pytest.mark.parametrize(("method", "kept", "inside"), [(0, 1, False), (1, 1, True), (2, 0, False)])
def test_methods_of_places(method: int, kept: int, inside: bool) -> None:
    body = bytes([0x44, 0x00]) + struct.pack(">HHHHHII", 1, 3, method, 0, 1, 2, 4)
    found = items(box(b"iloc", body, full=1 << 24), box(b"idat", b"0123456789"))
    assert len(found.by_id[3].extents) == kept
    assert found.by_id[3].in_idat == inside


@pytest.mark.parametrize(
    ("start", "size", "there"),
    [(2, 4, True), (6, 4, True), (7, 4, False), (3, 0, True), (11, 0, False)],
)
def test_content_within_the_idat_box(start: int, size: int, there: bool) -> None:
    """A length of 0 means all that is left."""
    body = bytes([0x44, 0x00]) + struct.pack(">HHHHHII", 1, 3, 1, 0, 1, start, size)
    found = items(box(b"iloc", body, full=1 << 24), box(b"idat", b"0123456789"))
    data = found._file.data
    places = found.content(found.by_id[3])
    assert (places is not None) == there
    if places:
        ((first, last),) = places
        assert data[first:last] == b"0123456789"[start : start + size if size else 10]
    assert items(box(b"iloc", body, full=1 << 24)).content(found.by_id[3]) is None


@pytest.mark.parametrize("version", [0, 1])
@pytest.mark.parametrize("entry", [2, 3])
def test_kinds_of_items(version: int, entry: int) -> None:
    """8.11.6: counts of 2 or 4 bytes; entries of version 2 and 3 have ids of 2 and 4."""
    id_ = number(70_000 if entry == 3 else 7, 4 if entry == 3 else 2)
    mime = box(
        b"infe", id_, number(0, 2), b"mime", b"name\0application/rdf+xml\0", full=entry << 24
    )
    old = box(b"infe", number(8, 2), number(0, 2), b"old!", b"\0", full=1 << 24)
    found = items(box(b"iinf", number(2, 4 if version else 2), mime, old, full=version << 24))
    (item,) = found.by_id.values()
    assert (item.kind, item.content) == (b"mime", b"application/rdf+xml")


@pytest.mark.parametrize("version", [0, 1])
def test_references_between_items(version: int) -> None:
    """8.11.12: ids of 2 or 4 bytes; several boxes of a kind add up."""
    wide = 4 if version else 2
    one = box(b"dimg", number(5, wide), number(2, 2), number(1, wide), number(2, wide))
    two = box(b"dimg", number(5, wide), number(1, 2), number(3, wide))
    other = box(b"auxl", number(6, wide), number(1, 2), number(5, wide))
    found = items(box(b"iref", one, two, other, full=version << 24))
    assert found.targets(b"dimg", 5) == [1, 2, 3]
    assert found.targets(b"auxl", 6) == [5]
    assert found.targets(b"auxl", 5) == []


@pytest.mark.parametrize(("version", "size"), [(0, 2), (1, 4)])
def test_the_primary_item(version: int, size: int) -> None:
    """8.11.4."""
    assert items(box(b"pitm", number(258, size), full=version << 24)).primary == 258


@pytest.mark.parametrize("version", [0, 1])
def test_properties_of_items(version: int) -> None:
    """23008-12, 9.3: numbered from 1 in the order of the container; 0 is none."""
    known = [box(b"one ", b"1"), box(b"two ", b"22"), box(b"thre", b"333")]
    id_ = number(4, 4 if version else 2)
    table = number(1, 4) + id_ + bytes([5, 3, 0, 0x81, 4, 2])
    found = items(box(b"iprp", box(b"ipco", *known), box(b"ipma", table, full=version << 24)))
    assert [one.kind for one in found.by_id[4].properties] == [b"thre", b"one ", b"two "]


# GIF


@pytest.mark.parametrize("bits", range(8))
def test_color_tables_of_every_size(bits: int) -> None:
    """GIF89a, 18 and 20: 2 to the power of n + 1 entries of 3 bytes, of the file and of a frame."""
    table = bytes(3 * 2 ** (bits + 1))
    start = b"GIF89a" + struct.pack("<HHBBB", 4, 3, 0x80 | bits, 0, 0) + table
    frame = b"," + struct.pack("<HHHHB", 0, 0, 4, 3, 0x80 | bits) + table + b"\x02\x02\x84\x51\x00"
    header = gif_reader.read(start + frame + GIF_FRAME + b";")
    assert (header.frames, header.problems) == (2, ())
    plain = b"GIF89a" + struct.pack("<HHBBB", 4, 3, bits, 0, 0)
    assert gif_reader.read(plain + GIF_FRAME + b";").problems == ()


def test_the_first_frame_may_enlarge_the_picture_and_no_other() -> None:
    def frame(left: int, top: int, width: int, height: int) -> bytes:
        return b"," + struct.pack("<HHHHB", left, top, width, height, 0) + b"\x02\x02\x84\x51\x00"

    header = gif_reader.read(gif(frame(3, 2, 5, 6)))
    assert (header.width, header.height, header.problems) == (8, 8, ())
    assert gif_reader.read(gif(frame(0, 0, 8, 8), frame(3, 3, 5, 5))).problems == ()
    for wide, high in ((6, 5), (5, 6)):
        found = gif_reader.read(gif(frame(0, 0, 8, 8), frame(3, 3, wide, high)))
        assert found.problems == ("a frame reaches beyond the picture",)


@pytest.mark.parametrize("cut", range(1, 24))
def test_a_gif_cut_anywhere_is_told(cut: int) -> None:
    whole = gif(GIF_CONTROL, GIF_FRAME)
    try:
        problems = gif_reader.read(whole[:-cut]).problems
    except DamagedError as damage:
        problems = (str(damage),)
    assert problems
    assert gif_reader.read(whole).problems == ()


@pytest.mark.parametrize("flags", [0, 1, 2, 4, 9])
def test_the_lowest_flag_says_see_through(flags: int) -> None:
    """GIF89a, 23."""
    control = GIF_CONTROL[:3] + bytes([flags]) + GIF_CONTROL[4:]
    assert gif_reader.read(gif(control, GIF_FRAME)).alpha == bool(flags & 1)
    # it is the first frame that counts
    assert not gif_reader.read(gif(GIF_FRAME, control, GIF_FRAME)).alpha


@pytest.mark.parametrize("size", [1, 255, 256, 600])
def test_a_profile_in_sub_blocks(size: int) -> None:
    profile = bytes(range(1, 201)) * 3
    block = application(b"ICCRGBG1012", sub_blocks(profile[:size]))
    assert gif_reader.read(gif(block, GIF_FRAME)).icc == profile[:size]


def test_an_item_without_a_place_has_no_content() -> None:
    exif = box(b"infe", number(4, 2), number(0, 2), b"Exif", b"\0", full=2 << 24)
    found = items(box(b"iinf", number(1, 2), exif, full=0))
    assert found.content(found.by_id[4]) == []
