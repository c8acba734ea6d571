"""Boxes and item tables of AVIF written by hand, in both widths and at the ends of their counts.

ISO/IEC 14496-12 (boxes 4.2, item tables 8.11) and 23008-12 (properties 6.5, 9.3).
"""

from __future__ import annotations

import struct

import pytest
from header_files import AV1C, FTYP, avif, box, infe, ispe

from pytest_webdeliverable.measure.headers import avif as reader
from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.boxes import BOX_PARTS, Box, BoxFile, Cursor, Item, Items

ALPHA = b"urn:mpeg:mpegB:cicp:systems:auxiliary:alpha\0"
XMP = b"application/rdf+xml"
EXIF = b"\0\0\0\0II*\0\x08\0\0\0\0\0"


def items(*boxes: bytes, behind: bytes = b"") -> Items:
    data = box(b"meta", *boxes, full=0)
    return Items(BoxFile(data + behind), Box(b"meta", 8, len(data)))


def number(value: int, wide: bool) -> bytes:
    return struct.pack(">I" if wide else ">H", value)


@pytest.mark.parametrize(
    ("version", "ids"),
    [(0, (1, 2, 3, 4)), (1, (1, 2, 3, 4)), (2, (0x1FFFE, 0x20001, 0x1FFFF, 0x3000000))],
)
def test_tables_with_ids_of_two_and_of_four_bytes(version: int, ids: tuple[int, ...]) -> None:
    """pitm, iinf, iref and ipma widen ids in version 1, infe in version 3, iloc in version 2."""
    wide = version == 2
    main, exif, xmp, alpha = ids
    kinds = {main: b"av01", exif: b"Exif", xmp: b"mime", alpha: b"av01"}
    head = int(wide) << 24
    infos = [
        box(
            b"infe", number(one, wide), b"\0\0", kind, b"name\0", XMP + b"\0", full=(2 + wide) << 24
        )
        for one, kind in kinds.items()
    ]
    contents = {main: b"pixels", exif: EXIF, xmp: b"<x/>", alpha: b"grays"}
    at, rows = 0, b""
    for one, content in contents.items():
        rows += number(one, wide) + (b"\0\1" if version else b"") + b"\0\0"
        rows += struct.pack(">HII", 1, at, len(content))
        at += len(content)
    # Version 0 knows no idat box: its places count from the start of the file.
    rows_at = struct.pack(">H", 0x4400) + number(4, wide)
    associations = b"".join(
        number(one, wide) + bytes([len(found), *found])
        for one, found in ((main, (1, 2)), (alpha, (3,)))
    )
    properties = box(
        b"iprp",
        box(b"ipco", ispe(9, 7), AV1C, box(b"auxC", ALPHA, full=0)),
        box(b"ipma", struct.pack(">I", 2), associations, full=head),
    )
    parts = (
        box(b"pitm", number(main, wide), full=head),
        box(b"iinf", number(4, wide), *infos, full=head),
        box(b"iref", box(b"auxl", number(alpha, wide), b"\0\1", number(main, wide)), full=head),
        properties,
        box(b"idat", *contents.values()),
    )
    if not version:
        rows = b""
        at = len(FTYP) + 8 + 4 + sum(map(len, parts)) - sum(map(len, contents.values()))
        at += 8 + 4 + 4 + 14 * 4  # the table itself stands before the idat box
        for one, content in contents.items():
            rows += struct.pack(">HHHII", one, 0, 1, at, len(content))
            at += len(content)
    places = box(b"iloc", rows_at, rows, full=version << 24)
    header = reader.read(FTYP + box(b"meta", *parts[:-1], places, parts[-1], full=0))
    assert (header.width, header.height, header.alpha, header.problems) == (9, 7, True, ())
    assert (header.exif, header.xmp) == (EXIF[4:], (b"<x/>",))


@pytest.mark.parametrize("in_idat", [False, True])
def test_items_end_with_what_holds_them(in_idat: bool) -> None:
    """A length of 0 reaches to the end; one byte too many is no content."""
    found = items(box(b"idat", b"0123456789"), behind=b"behind")
    base, end = (20, 30) if in_idat else (0, 36)
    whole = end - base
    for extents, places in (
        ([(0, whole)], [(base, end)]),
        ([(3, 0), (0, 1)], [(base + 3, end), (base, base + 1)]),
        ([(whole, 0)], [(end, end)]),
        ([(1, whole)], None),
        ([(0, 1), (whole + 1, 0)], None),
        ([], []),
    ):
        assert found.content(Item(in_idat=in_idat, extents=extents)) == places


def test_what_is_no_item_information_is_passed_over() -> None:
    """Another box, and infe of version 1, whose fields are others (14496-12, 8.11.6.2)."""
    old = box(b"infe", b"\0\7\0\0av01\0", full=1 << 24)
    table = box(b"iinf", b"\0\3", box(b"free", b"1234"), old, infe(2, b"av01"), full=0)
    found = items(table)
    assert {one: item.kind for one, item in found.by_id.items()} == {2: b"av01"}


@pytest.mark.parametrize(
    ("kind", "texts", "content"),
    [(b"mime", b"name\0text/x\0", b"text/x"), (b"mime", b"\0a\0deflate\0", b"a"),
     (b"mime", b"name", b""), (b"mime", b"name\0", b""), (b"uri ", b"name\0" + XMP + b"\0", b"")],
)  # fmt: skip
def test_content_types_of_items(kind: bytes, texts: bytes, content: bytes) -> None:
    """14496-12, 8.11.6.2: a name, then the type where the item is of MIME; texts end in zeros."""
    assert items(box(b"iinf", b"\0\1", infe(2, kind, texts), full=0)).by_id[2].content == content


@pytest.mark.parametrize("wide", [False, True])
def test_properties_by_number(wide: bool) -> None:
    """23008-12, 9.3: 1 is the first; 0 is none; the last of them; numbers beyond it are none."""
    count = 300 if wide else 127
    properties = [ispe(1, at) for at in range(1, count + 1)]
    top = 0x8000 if wide else 0x80
    asked = (1, top | 2, 0, top, top | count, count, count + 1 if wide else 0x7F)
    rows = b"\0\5" + bytes([len(asked)]) + b"".join(struct.pack(">H" if wide else "B", one) for one in asked)  # fmt: skip
    table = box(b"ipma", struct.pack(">I", 1), rows, full=0x10 | wide)  # other flags say nothing
    data = box(b"meta", box(b"iprp", box(b"ipco", *properties), box(b"free"), table), full=0)
    found = Items(BoxFile(data), Box(b"meta", 8, len(data))).by_id[5].properties
    heights = [int.from_bytes(data[one.start + 8 : one.end], "big") for one in found]
    assert heights == [1, 2, count, count, *([] if wide else [127])]


def test_references_of_one_kind_are_collected() -> None:
    """14496-12, 8.11.12: kind, origin, count, targets."""
    one = box(b"dimg", struct.pack(">HHHH", 1, 2, 9, 8))
    other = box(b"dimg", struct.pack(">HHH", 1, 1, 7))
    found = items(box(b"iref", one, box(b"auxl", struct.pack(">HHH", 1, 1, 6)), other, full=0))
    assert (found.targets(b"dimg", 1), found.targets(b"auxl", 1)) == ([9, 8, 7], [6])
    assert found.targets(b"dimg", 2) == []
    with pytest.raises(DamagedError, match="incomplete"):
        items(box(b"iref", box(b"dimg", struct.pack(">HHH", 1, 2, 9)), full=0))


@pytest.mark.parametrize(
    ("data", "cut"),
    [(b"\0\0\0\x08free", False), (b"\0\0\0\x09free", True), (b"\0\0\0\x09freex", False),
     (b"\0\0\0\x08fre", True), (b"\0", True), (b"", False), (b"\0\0\0\0free", False),
     (b"\0\0\0\1free" + bytes(7) + b"\x10", False), (b"\0\0\0\1free" + bytes(7) + b"\x11", True),
     (box(b"free") + b"\0\0\0\x08wi", True), (b"\0\0\0\x0afree" + box(b"next"), False),
     (b"\0\0\0\x09freex\0\0\0\x08free", False)],
)  # fmt: skip
def test_boxes_that_reach_beyond_what_holds_them(data: bytes, cut: bool) -> None:
    file = BoxFile(data + b"behind")
    if data.startswith(b"\0\0\0\x0a"):
        data = data[:10]  # a box of ten bytes, and no more is looked at
    found = list(file.boxes(0, len(data)))
    assert file.cut == cut
    assert all(one.start <= one.end <= len(data) for one in found)


@pytest.mark.parametrize("cut_first", [True, False])
def test_a_cut_box_stays_known(cut_first: bool) -> None:
    file = BoxFile(b"\0\0\0\x63free" + box(b"free"))
    for start, end in ((0, 8), (8, 16)) if cut_first else ((8, 16), (0, 8)):
        list(file.boxes(start, end))
    assert file.cut


@pytest.mark.parametrize(
    ("data", "small"),
    [(b"\0\0\0\x08free", False), (b"\0\0\0\x07free", True), (b"\0\0\0\2free", True),
     (b"\0\0\0\1free" + bytes(7) + b"\x10", False), (b"\0\0\0\1free" + bytes(7) + b"\x0f", True),
     (b"\0\0\0\1free" + bytes(8), True)],
)  # fmt: skip
def test_boxes_smaller_than_their_heading(data: bytes, small: bool) -> None:
    """14496-12, 4.2: the size counts the heading of 8 or, with a size of 8 bytes, 16 bytes."""
    whole = box(b"ftyp", b"abcd") + data
    if small:
        with pytest.raises(DamagedError, match="at byte 12: a part is too small"):
            list(BoxFile(whole).boxes(0, len(whole)))
    else:
        (_, found) = BoxFile(whole).boxes(0, len(whole))
        assert (found.start, found.end) == (len(whole), len(whole))


def test_the_last_part_of_the_budget() -> None:
    """200,000 boxes, items, places and references may be read, and one more may not."""
    file = BoxFile(box(b"free") * 3)
    file.spend(BOX_PARTS - 2)
    assert len(list(file.boxes(0, 16))) == 2
    with pytest.raises(DamagedError, match="more than 200,000 parts"):
        next(file.boxes(0, 16))


def test_a_cursor_ends_where_it_shall() -> None:
    cursor = Cursor(b"\0\1\2\3\4\5", 1, 5)
    assert (cursor.number(0), cursor.number(3), cursor.at) == (0, 0x010203, 4)
    with pytest.raises(DamagedError):
        cursor.take(2)
    assert cursor.take(1) == b"\4"
    assert Cursor(b"abc", 2, 99).take(1) == b"c"
    with pytest.raises(DamagedError):
        Cursor(b"abc", 2, 99).take(2)


def test_the_first_box_of_a_kind_counts() -> None:
    data = box(b"free", b"1234", box(b"skip"), box(b"item", b"a"), box(b"item", b"bc"))
    file = BoxFile(data)
    parent = Box(b"free", 8, len(data))
    found = file.child(parent, b"item", skip=4)
    assert found is not None
    assert data[found.start : found.end] == b"a"
    assert file.child(parent, b"none", skip=4) is None


def test_a_file_that_its_main_picture_alone_describes() -> None:
    """What belongs to no item, and an unknown property, is passed over."""
    unknown = box(b"xxxx", b"1")
    header = reader.read(avif(properties=(unknown, ispe(4, 3), AV1C, ispe(8, 6))))
    assert (header.width, header.height) == (4, 3)
