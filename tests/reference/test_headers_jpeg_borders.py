"""Marker segments of JPEG by hand (ITU-T T.81, annex B): every length, count and number at its edge."""

from __future__ import annotations

import struct

import pytest
from jpegs import assembled, frame_segment, scan_segment, segment, tables_segment

from pytest_webdeliverable.measure.headers import jpeg
from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.jpeg_parts import HuffmanTable, Walk
from pytest_webdeliverable.measure.headers.jpeg_walk import walk
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits

SOI, EOI = b"\xff\xd8", b"\xff\xd9"
MISSING = "the file ends before the picture does: the end marker is missing"


def walked(*parts: bytes, limits: Limits = DEFAULT_LIMITS) -> Walk:
    return walk(SOI + b"".join(parts), limits)


def frame(precision: int = 8, height: int = 8, width: int = 8, parts: bytes = b"\x01\x11\x00") -> bytes:  # fmt: skip
    """B.2.2: precision, lines, samples, number of components, three bytes for each."""
    return segment(0xC0, struct.pack(">BHHB", precision, height, width, len(parts) // 3) + parts)


SCAN = scan_segment(1) + b"\x12\x34"
WHOLE = (frame(), SCAN, EOI)


@pytest.mark.parametrize("cut", range(1, 13))
def test_a_frame_header_that_is_cut(cut: int) -> None:
    body = frame(parts=b"\x01\x11\0\x02\x11\1")[4:]
    assert len(body) == 12
    with pytest.raises(DamagedError, match="frame header is incomplete"):
        walked(segment(0xC0, body[:-cut]), SCAN, EOI)
    assert len(walked(segment(0xC0, body), SCAN, EOI).frame.components) == 2  # type: ignore[union-attr]


def test_no_components() -> None:
    with pytest.raises(DamagedError, match="frame header is incomplete"):
        walked(frame(parts=b""), SCAN, EOI)


@pytest.mark.parametrize(
    ("h", "v"), [(0, 1), (1, 0), (1, 1), (4, 4), (4, 1), (5, 1), (1, 5), (15, 1), (1, 15)]
)
def test_sampling_factors(h: int, v: int) -> None:
    """Table B.2: 1 to 4."""
    parts = b"\x01\x11\0" + bytes([2, h << 4 | v, 3])
    if 1 <= h <= 4 and 1 <= v <= 4:
        found = walked(frame(parts=parts), SCAN, EOI).frame
        assert found is not None
        assert [(one.ident, one.h, one.v, one.table) for one in found.components] == [
            (1, 1, 1, 0),
            (2, h, v, 3),
        ]
    else:
        with pytest.raises(DamagedError, match="impossible sampling factors"):
            walked(frame(parts=parts), SCAN, EOI)


@pytest.mark.parametrize(("bits", "known"), [(0, False), (1, False), (2, True), (8, True), (16, True), (17, False)])  # fmt: skip
def test_bits_of_a_sample(bits: int, known: bool) -> None:
    """Table B.2: 2 to 16 over all processes."""
    if known:
        assert jpeg.read(SOI + frame(bits) + SCAN + EOI).bits == bits
    else:
        with pytest.raises(DamagedError, match=f"states {bits} bits a sample"):
            walked(frame(bits), SCAN, EOI)


@pytest.mark.parametrize("size", [(1, 1), (0x1234, 0x5678), (65_535, 65_535)])
def test_sizes(size: tuple[int, int]) -> None:
    header = jpeg.read(SOI + frame(height=size[1], width=size[0]) + SCAN + EOI)
    assert (header.width, header.height) == size
    with pytest.raises(DamagedError, match="width of 0 px"):
        walked(frame(width=0, height=size[1]), SCAN, EOI)


@pytest.mark.parametrize(
    ("stated", "scans", "lines", "height"),
    [(0, 1, b"\1\2", 0x0102), (0, 1, b"\1\2\3", 0x0102), (0, 1, b"\1", None), (0, 1, b"", None),
     (0, 2, b"\1\2", None), (0, 0, b"\1\2", None), (7, 1, b"\1\2", 7), (0, 1, b"\0\1", 1)],
)  # fmt: skip
def test_lines_stated_behind_the_first_scan(stated, scans, lines, height) -> None:
    """B.2.5: a height of 0 is stated by DNL at the end of the first scan, in two bytes."""
    parts = [frame(height=stated), *[SCAN] * scans, segment(0xDC, lines), *[SCAN] * (scans == 0)]
    if height is None:
        with pytest.raises(DamagedError, match="does not state the height"):
            jpeg.read(SOI + b"".join(parts) + EOI)
    else:
        header = jpeg.read(SOI + b"".join(parts) + EOI)
        assert (header.width, header.height, header.bits) == (8, height, 8)


@pytest.mark.parametrize("wide", [False, True])
def test_quantization_tables(wide: bool) -> None:
    """B.2.4.1: precision and number, then 64 entries of one or two bytes; the last of a number rules."""
    tables = [[at + (300 if wide else 0) + shift for at in range(64)] for shift in range(4)]
    found = walked(tables_segment([5] * 64), tables_segment(*tables, wide=wide), *WHOLE)
    assert found.tables == {number: tuple(table) for number, table in enumerate(tables)}


@pytest.mark.parametrize(("head", "size", "sound"), [(0x03, 64, True), (0x03, 63, False), (0x04, 64, False), (0x13, 128, True), (0x13, 127, False), (0x14, 128, False), (0x10, 64, False), (0x00, 65, False), (0x0F, 64, False)])  # fmt: skip
def test_lengths_and_numbers_of_quantization_tables(head: int, size: int, sound: bool) -> None:
    data = segment(0xDB, bytes([head]) + bytes([9]) * size)
    if sound:
        assert walked(data, *WHOLE).tables == {3: (9,) * 64 if size == 64 else (0x0909,) * 64}
    else:
        with pytest.raises(DamagedError, match="quantization table"):
            walked(data, *WHOLE)
    assert walked(segment(0xDB, b""), *WHOLE).tables == {}


def huffman(head: int, counts: dict[int, int], symbols: bytes | None = None) -> bytes:
    """B.2.4.2: class and number, how many codes of 1 to 16 bits, their symbols."""
    total = sum(counts.values())
    body = bytes([head, *(counts.get(length, 0) for length in range(1, 17))])
    return body + (bytes(at % 256 for at in range(7, 7 + total)) if symbols is None else symbols)


@pytest.mark.parametrize(
    ("counts", "shortest"),
    [({1: 1}, 1), ({16: 1}, 16), ({3: 2, 4: 9}, 3), ({9: 1, 16: 255}, 9), ({8: 255, 9: 2}, None),
     ({1: 255, 2: 1}, 1)],
)  # fmt: skip
def test_huffman_tables(counts: dict[int, int], shortest: int | None) -> None:
    """Up to 256 codes; the first symbol has the shortest code (C.2)."""
    parts = (segment(0xC4, huffman(0x00, counts) + huffman(0x11, {2: 1})),)
    if shortest is None:
        with pytest.raises(DamagedError, match="Huffman table"):
            walked(*parts, *WHOLE)
        return
    (part,) = walked(*parts, *WHOLE).scans[0].parts
    assert part.dc == HuffmanTable(length=shortest, symbol=7)
    assert part.ac is None  # the scan names number 0, and 1 was defined


@pytest.mark.parametrize("cut", [1, 2, 3, 4, 19])
def test_a_huffman_table_that_is_cut(cut: int) -> None:
    body = huffman(0, {2: 3})
    assert len(body) == 20
    with pytest.raises(DamagedError, match="Huffman table"):
        walked(segment(0xC4, body[:-cut]), *WHOLE)
    assert walked(segment(0xC4, huffman(0, {})), *WHOLE).scans[0].parts[0].dc is None


@pytest.mark.parametrize("choice", [0x00, 0x01, 0x10, 0x12, 0x23, 0x33])
def test_the_tables_that_a_scan_names(choice: int) -> None:
    """B.2.3: the upper half names the DC table, the lower the AC table; those in force count."""
    tables = b"".join(
        huffman(kind << 4 | number, {1 + number + 4 * kind: 1}, bytes([16 * kind + number]))
        for kind in (0, 1)
        for number in range(4)
    )
    scan = segment(0xDA, bytes([1, 1, choice, 0, 63, 0])) + b"\x12"
    found = walked(segment(0xC4, tables), frame(), scan, segment(0xC4, huffman(0, {9: 1})), EOI)
    (part,) = found.scans[0].parts
    dc, ac = choice >> 4, choice & 15
    assert part.dc == HuffmanTable(length=1 + dc, symbol=dc)
    assert part.ac == HuffmanTable(length=5 + ac, symbol=16 + ac)


@pytest.mark.parametrize("count", range(6))
@pytest.mark.parametrize("less", [0, 1])
def test_headers_of_scans(count: int, less: int) -> None:
    """B.2.3: one to four components, two bytes each, and three bytes behind them."""
    parts = b"".join(bytes([number, 0x11, 0]) for number in range(1, 6))
    names = b"".join(bytes([number, 0]) for number in range(1, count + 1))
    body = bytes([count]) + names + b"\x05\x3e\xa7"
    scan = segment(0xDA, body[: len(body) - less]) + b"\x12"
    if less or not 1 <= count <= 4:
        with pytest.raises(DamagedError, match="header of a scan"):
            walked(frame(parts=parts), scan, EOI)
        return
    (found,) = walked(frame(parts=parts), scan, EOI).scans
    assert [part.component.ident for part in found.parts] == list(range(1, count + 1))
    assert (found.first, found.last, found.high, found.low) == (5, 0x3E, 10, 7)


def test_a_scan_names_what_the_frame_does_not() -> None:
    with pytest.raises(DamagedError, match="does not have"):
        walked(frame(), scan_segment(2) + b"\x12", EOI)
    with pytest.raises(DamagedError, match="header of a scan"):
        walked(frame(), segment(0xDA, b""), EOI)
    with pytest.raises(DamagedError, match="before the frame header"):
        walked(SCAN, frame(), EOI)


@pytest.mark.parametrize(
    ("coded", "length", "restarts"),
    [(b"\x12\x34", 2, False), (b"", 0, False), (b"\x12\xff\0", 3, False), (b"\xff\0\x12", 3, False),
     (b"\x12\xff", 1, False), (b"\x12" + b"\xff" * 9, 1, False), (b"\xff\xff", 0, False),
     (b"\x12\xff\xd0\x34", 4, True), (b"\x12\xff\xd7\x34\xff\xd0", 6, True), (b"\xff\0\xff", 2, False)],
)  # fmt: skip
def test_where_coded_data_ends(coded: bytes, length: int, restarts: bool) -> None:
    """B.1.1.2 and B.1.1.5: 0xFF with a zero is data, RST0 to RST7 stand in it, fill is none of it."""
    start = len(SOI + frame() + scan_segment(1))
    for rest in (EOI, segment(0xFE, b"c") + EOI):
        (found,) = walked(frame(), scan_segment(1), coded, rest).scans
        assert (found.start, found.end, found.has_restarts) == (start, start + length, restarts)
    without = walked(frame(), scan_segment(1), coded)
    assert (without.scans[0].end, without.end) == (start + length, None)
    assert without.problems == [MISSING]


@pytest.mark.parametrize(("fill", "read"), [(1025, True), (1026, False)])
@pytest.mark.parametrize("rest", [b"\0\x12" + EOI, EOI[1:], b"\xd0\x12" + EOI, b""])
def test_fill_in_coded_data(fill: int, read: bool, rest: bytes) -> None:
    """1,024 fill bytes before the 0xFF that begins a marker; other scans are no part of it."""
    coded = b"\x12" + b"\xff" * fill + rest
    if read:
        assert len(walked(frame(), scan_segment(1), coded).scans) == 1
    else:
        with pytest.raises(DamagedError, match="more than 1024 fill bytes"):
            walked(frame(), scan_segment(1), coded)


@pytest.mark.parametrize(("body", "interval"), [(b"\1\2", 0x0102), (b"\1\2\3", 0x0102), (b"\1", 0), (b"", 0)])  # fmt: skip
def test_restart_intervals(body: bytes, interval: int) -> None:
    """B.2.4.4: two bytes; they hold for the scans behind them."""
    found = walked(frame(), SCAN, segment(0xDD, body), SCAN, EOI)
    assert [scan.restart_interval for scan in found.scans] == [0, interval]
    assert found.restart_interval == interval


@pytest.mark.parametrize(
    ("between", "stray"),
    [(b"\x01", 1), (b"ab", 2), (b"\xff\0", 2), (b"\xff\xd0", 2), (b"\xff\xd7\x05", 3),
     (b"\xff\x01", 0), (b"\xff\xff", 0), (b"", 0)],
)  # fmt: skip
def test_bytes_between_segments(between: bytes, stray: int) -> None:
    """B.1.1.3: RST has no place there, TEM has no length; fill is allowed."""
    found = walked(between, *WHOLE)
    noun = "byte lies" if stray == 1 else "bytes lie"
    text = f"{stray} stray {noun} between the parts of the file; it may be damaged"
    assert found.problems == ([text] if stray else [])
    assert found.end == len(SOI + between + b"".join(WHOLE))


def test_a_second_start() -> None:
    found = walked(*WHOLE[:2], SOI, *WHOLE)
    assert found.problems[0] == "a second picture begins before the first one has ended"
    with pytest.raises(DamagedError, match="does not begin"):
        walk(b"\xff\xd9" + b"".join(WHOLE), DEFAULT_LIMITS)


@pytest.mark.parametrize(("length", "read"), [(0, False), (1, False), (2, True)])
def test_lengths_of_segments(length: int, read: bool) -> None:
    """B.1.1.4: the length counts its own two bytes."""
    for marker in (0xFE, 0xE5, 0xF0):
        data = struct.pack(">BBH", 0xFF, marker, length)
        if read:
            found = walked(data, *WHOLE)
            assert (found.segments, found.problems) == ([(marker, 6, b"")] if marker != 0xF0 else [], [])  # fmt: skip
        else:
            with pytest.raises(DamagedError, match="impossible length"):
                walked(data, *WHOLE)


@pytest.mark.parametrize("cut", range(6))
def test_a_last_segment_that_is_cut(cut: int) -> None:
    last = segment(0xFE, b"note")
    found = walked(*WHOLE[:2], last[: len(last) - cut])
    assert [payload for _, _, payload in found.segments] == ([] if cut else [b"note"])
    assert (found.end, found.problems) == (None, [MISSING])
    assert len(walked(*WHOLE[:2], segment(0xFE, b"")).segments) == 1


@pytest.mark.parametrize("marker", [0xE0, 0xE7, 0xEF, 0xFE, 0xDF, 0xF0, 0xFD])
def test_segments_that_are_kept(marker: int) -> None:
    """Table B.1: APP0 to APP15 and COM."""
    found = walked(segment(0xFE, b"1"), segment(marker, b"23"), *WHOLE).segments
    kept = 0xE0 <= marker <= 0xEF or marker == 0xFE
    assert found == [(0xFE, 6, b"1"), *([(marker, 11, b"23")] if kept else [])]


@pytest.mark.parametrize(("limit", "read"), [(5, True), (4, False)])
def test_the_number_of_segments(limit: int, read: bool) -> None:
    """Two comments, frame, scan and end are five."""
    parts = (segment(0xFE, b""), segment(0xFE, b""), *WHOLE)
    if read:
        assert walked(*parts, limits=Limits(jpeg_segments=limit)).problems == []
    else:
        with pytest.raises(DamagedError, match="more than 4 segments"):
            walked(*parts, limits=Limits(jpeg_segments=limit))


@pytest.mark.parametrize(("scans", "read"), [(3, True), (4, False)])
def test_the_number_of_scans(scans: int, read: bool) -> None:
    parts = (frame(), *[SCAN] * scans, EOI)
    if read:
        assert len(walked(*parts, limits=Limits(jpeg_scans=3)).scans) == 3
    else:
        with pytest.raises(DamagedError, match="more than 3 scans"):
            walked(*parts, limits=Limits(jpeg_scans=3))


def test_frame_headers_of_hierarchical_files() -> None:
    """B.3.2: DHP announces several frames; else there is one."""
    with pytest.raises(DamagedError, match="frame header twice"):
        walked(frame(), SCAN, frame(), SCAN, EOI)
    found = walked(segment(0xDE, frame()[4:]), frame(), SCAN, frame(width=9), SCAN, EOI)
    assert (found.hierarchical, len(found.scans), found.frame.width) == (True, 2, 8)  # type: ignore[union-attr]


def test_markers_of_frames() -> None:
    """Table B.1: SOF0 to SOF15 but for DHT, JPG and DAC, which stand among them."""
    frames = {marker: 0xC0 <= marker <= 0xCF and marker not in {0xC4, 0xC8, 0xCC} for marker in range(0xC0, 0xD0)}  # fmt: skip
    for marker, is_frame in frames.items():
        body = frame_segment(marker, (8, 8), (0x11,))
        if is_frame:
            assert walked(body, SCAN, EOI).frame.marker == marker  # type: ignore[union-attr]
        elif marker != 0xC4:
            with pytest.raises(DamagedError, match="before the frame header"):
                walked(body, SCAN, EOI)
    assert jpeg.read(assembled()).problems == ()
