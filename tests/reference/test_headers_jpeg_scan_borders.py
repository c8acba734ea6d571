"""What coded data of JPEG must hold (ITU-T T.81), against a block by block walk and sums by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from jpegs import assembled, frame_segment, scan_segment, segment

from pytest_webdeliverable.measure.headers import jpeg_entropy as entropy
from pytest_webdeliverable.measure.headers.jpeg import read
from pytest_webdeliverable.measure.headers.jpeg_parts import Component, HuffmanTable, ScanPart
from pytest_webdeliverable.measure.limits import Limits

LOST = "restart markers are missing or out of order: part of the picture data is lost"
UNFINISHED = "the file stops before the picture's finest detail: its last scans are missing"
ABSENT = "part of the picture data is missing: a color component has no scan"
TABLE = HuffmanTable


def part(h: int = 1, v: int = 1, table: int = 0, dc: Any = None, ac: Any = None) -> ScanPart:
    return ScanPart(component=Component(ident=1, h=h, v=v, table=table), dc=dc, ac=ac)


def scan_of(*parts: ScanPart, first: int = 0, last: int = 63, high: int = 0, low: int = 0) -> Any:
    return SimpleNamespace(parts=parts, first=first, last=last, high=high, low=low)


def frame_of(width: int, height: int, *parts: ScanPart, marker: int = 0xC0, precision: int = 8) -> Any:  # fmt: skip
    components = [one.component for one in parts]
    return SimpleNamespace(width=width, height=height, components=components, marker=marker, precision=precision)  # fmt: skip


@pytest.mark.parametrize(
    ("process", "kind", "bits"),
    [("baseline", {}, 2 * (3 + 5)), ("extended", {}, 2 * (3 + 5)), ("progressive", {"last": 0}, 2 * 3),
     ("progressive", {"last": 0, "high": 1}, 2 * 1), ("progressive", {"first": 1, "last": 5}, 0),
     ("progressive", {"first": 1, "last": 1, "high": 1}, 0), ("lossless", {}, 16 * 8 * 3)],
)  # fmt: skip
def test_fewest_bits_of_two_blocks(process: str, kind: dict[str, int], bits: int) -> None:
    """A shortest DC code of 3 bits and AC code of 5 for each of two blocks, or 128 samples; G.1.2."""
    one = part(dc=TABLE(length=3, symbol=0), ac=TABLE(length=5, symbol=0))
    assert entropy._fewest_bits(scan_of(one, **kind), frame_of(16, 8, one), process) == bits


def test_fewest_bits_of_several_components_and_without_tables() -> None:
    """4:2:0, 17 x 16 px: two units of four and two blocks; a code has at least one bit."""
    coded = part(2, 2, dc=TABLE(length=3, symbol=0), ac=TABLE(length=5, symbol=0))
    bare = part()
    frame = frame_of(17, 16, coded, bare, bare)
    assert entropy._fewest_bits(scan_of(coded, bare, bare), frame, "baseline") == 2 * (4 * 8 + 2 + 2)  # fmt: skip
    # Alone, the first component has 17 x 16 samples: 3 x 2 blocks.
    assert entropy._fewest_bits(scan_of(coded), frame, "baseline") == 6 * 8


def bits_of_zeros(parts: list[tuple[ScanPart, int]], scan: Any, precision: int) -> int:
    """Walk through zero bits, block by block, until no picture can be meant; count the bits.

    A DC value that leaves its range (A.3.3: 2,048 steps wide at 8 bits), or the sixteenth block
    whose coefficients are nearly all the same negative number.
    """
    values, used, full = [0] * len(parts), 0, 0
    while True:
        for number, (one, step) in enumerate(parts):
            blocks = one.component.h * one.component.v if len(parts) > 1 else 1
            for _ in range(blocks):
                if scan.first == 0:
                    used += one.dc.length + one.dc.symbol
                    values[number] += (step * (2**one.dc.symbol - 1)) << scan.low
                at, coefficients = max(scan.first, 1), 0
                while at <= scan.last:
                    run, size = one.ac.symbol >> 4, one.ac.symbol & 15
                    used += one.ac.length + (size or run)
                    if not size:
                        break
                    coefficients += 1
                    at += run + 1
                full += coefficients >= 32
                if values[number] > 2048 << max(precision - 8, 0) or full == 16:
                    return used


@pytest.mark.parametrize("low", [0, 1])
@pytest.mark.parametrize("precision", [8, 12])
@pytest.mark.parametrize("step", [1, 7])
@pytest.mark.parametrize(
    ("dc", "ac", "factors"),
    [((2, 3), (4, 0), [(1, 1)]), ((2, 1), (1, 0), [(1, 1)]), ((3, 11), (2, 0), [(2, 2)]),
     ((2, 0), (3, 1), [(1, 1)]), ((2, 0), (3, 0x11), [(1, 1)]), ((5, 4), (2, 0x00), [(2, 2), (1, 1), (1, 1)]),
     ((1, 0), (2, 2), [(2, 1), (1, 1)]), ((2, 2), (2, 0x21), [(1, 1)]), ((2, 1), (2, 0x70), [(1, 1)])],
)  # fmt: skip
def test_zeros_that_no_picture_has(dc, ac, factors, step, precision, low) -> None:
    """Never fewer than the walk needs, and hardly more: a unit at either end and two bytes."""
    parts = [
        part(h, v, 0, TABLE(length=dc[0], symbol=dc[1]), TABLE(length=ac[0], symbol=ac[1]))
        for h, v in factors
    ]
    scan = scan_of(*parts, low=low)
    tables = SimpleNamespace(steps={1: (step,) + (1,) * 63})
    found = entropy._impossible_zeros(scan, tables, frame_of(8, 8, *parts, precision=precision))
    needed = bits_of_zeros([(one, step) for one in parts], scan, precision)
    blocks = 1 if len(parts) == 1 else sum(h * v for h, v in factors)
    symbols = -(-63 // ((ac[1] >> 4) + 1)) if ac[1] & 15 else 1
    unit = blocks * (sum(dc) + symbols * (ac[0] + ((ac[1] & 15) or (ac[1] >> 4))))
    assert found is not None
    assert needed <= 8 * found <= needed + 3 * unit + 16


@pytest.mark.parametrize(
    ("dc", "ac", "kind", "told"),
    [((2, 0), (2, 0), {}, False), ((2, 15), (2, 0), {}, True), ((2, 16), (2, 0), {}, False),
     ((2, 1), (2, 0xF0), {}, False), ((2, 1), (2, 0xE0), {}, True), (None, (2, 0), {}, False),
     ((2, 1), None, {}, False), ((2, 1), None, {"last": 0}, True), ((2, 1), (2, 0), {"high": 1}, False),
     (None, (2, 1), {"first": 1}, True), (None, (2, 0), {"first": 1}, False),
     (None, (2, 1), {"first": 1, "last": 32}, True), (None, (2, 1), {"first": 1, "last": 31}, False),
     (None, (2, 0x11), {"first": 1, "last": 63}, True), (None, (2, 0x21), {"first": 1, "last": 63}, False),
     ((2, 0), (2, 1), {"last": 32}, True), ((2, 0), (2, 1), {"last": 31}, False)],
)  # fmt: skip
def test_zeros_that_may_mean_anything(dc, ac, kind, told) -> None:
    """F.1.2.1: categories to 15; 0xF0 is sixteen zeros and never ends; at least 32 coefficients a block."""
    one = part(
        dc=dc and TABLE(length=dc[0], symbol=dc[1]), ac=ac and TABLE(length=ac[0], symbol=ac[1])
    )
    found = entropy._impossible_zeros(scan_of(one, **kind), SimpleNamespace(steps={}), frame_of(8, 8, one))  # fmt: skip
    assert (found is not None) == told


def restarts(count: int, first: int = 0) -> bytes:
    return b"".join(b"\x12\x34\x56\xff" + bytes([0xD0 + at % 8]) for at in range(first, first + count)) + b"\x12" * 9  # fmt: skip


@pytest.mark.parametrize(
    ("interval", "markers"), [(1, 11), (2, 5), (5, 2), (6, 1), (11, 1), (12, 0), (13, 0), (100, 0)]
)
@pytest.mark.parametrize("more", [-1, 0, 1, 2])
def test_restart_markers_of_twelve_blocks(interval: int, markers: int, more: int) -> None:
    """B.2.1: one between each two intervals of 4 x 3 blocks; one behind the last loses nothing."""
    count = max(markers + more, 0)
    data = assembled(size=(32, 24), before=segment(0xDD, interval.to_bytes(2, "big")), coded=restarts(count))  # fmt: skip
    told = not markers <= count <= markers + 1
    assert read(data).problems == ((LOST,) if told else ())


@pytest.mark.parametrize("first", range(8))
@pytest.mark.parametrize("window", [1, 4, 5, 7, 1 << 20])
def test_restart_markers_count_from_0_to_7(first: int, window: int, monkeypatch: pytest.MonkeyPatch) -> None:  # fmt: skip
    monkeypatch.setattr(entropy, "_WINDOW", window)
    data = assembled(size=(32, 24), before=segment(0xDD, b"\0\1"), coded=restarts(11, first))
    assert read(data).problems == ((LOST,) if first else ())


@pytest.mark.parametrize(
    ("scans", "problem"),
    [([(0, 63, 0)], None), ([(0, 0, 0), (1, 63, 0)], None), ([(0, 0, 0), (1, 62, 0)], UNFINISHED),
     ([(0, 0, 0), (2, 63, 0)], UNFINISHED), ([(0, 0, 1), (1, 63, 0)], UNFINISHED),
     ([(0, 0, 1), (1, 63, 0), (0, 0, 0x10)], None), ([(0, 0, 0), (1, 63, 2), (1, 63, 0x21)], UNFINISHED),
     ([(0, 0, 0), (1, 63, 2), (1, 63, 0x21), (1, 63, 0x10)], None), ([(1, 63, 0)], ABSENT),
     ([(0, 0, 0), (1, 30, 0), (31, 63, 0)], None), ([(0, 0, 0), (5, 4, 0)], "the header of a scan is damaged"),
     ([(0, 0, 0), (1, 64, 0)], "the header of a scan is damaged"), ([(0, 0, 0), (63, 63, 0), (1, 62, 0)], None)],
)  # fmt: skip
def test_scans_bring_every_coefficient_to_its_last_bit(scans, problem) -> None:
    """G.1.1.1: bands of coefficients, and bits above the lowest that a scan brings."""
    data = b"\xff\xd8" + frame_segment(0xC2, (8, 8), (0x11,))
    for first, last, approximation in scans:
        data += scan_segment(1, first, last, approximation) + b"\x12" * 99
    assert read(data + b"\xff\xd9").problems == ((problem,) if problem else ())


def test_each_component_is_asked_for() -> None:
    start = b"\xff\xd8" + frame_segment(0xC0, (8, 8), (0x11, 0x11))
    scans = [segment(0xDA, bytes([1, one, 0, 0, 63, 0])) + b"\x12" * 99 for one in (1, 2)]
    assert read(start + b"".join(scans) + b"\xff\xd9").problems == ()
    for one in scans:
        assert read(start + one + b"\xff\xd9").problems == (ABSENT,)


@pytest.mark.parametrize(("limit", "told"), [(32 * 24, True), (32 * 24 - 1, False)])
def test_restart_markers_are_counted_up_to_the_limit_of_pixels(limit: int, told: bool) -> None:
    data = assembled(size=(32, 24), before=segment(0xDD, b"\0\1"), coded=restarts(9))
    assert read(data, Limits(pixels=limit)).problems == ((LOST,) if told else ())


@pytest.mark.parametrize("before", [b"", segment(0xDE, b"\x08\0\x08\0\x08\1\1\x11\0")])
@pytest.mark.parametrize("marker", [0xC0, 0xC5])
def test_differences_and_hierarchies_are_left_to_the_decoder(before: bytes, marker: int) -> None:
    """B.3: a frame of a hierarchy need not bring all by itself; SOF5 codes differences."""
    data = assembled(marker, size=(800, 800), before=before, coded=b"\x12")
    assert bool(read(data).problems) == (not before and marker == 0xC0)


def codes(kind: int, symbol: int) -> bytes:
    """A table of one code of one bit."""
    return segment(0xC4, bytes([kind << 4, 1]) + bytes(15) + bytes([symbol]))


@pytest.mark.parametrize("step", [None, 0, 1])
def test_zeros_as_many_as_there_may_not_be(step: int | None) -> None:
    """A table that is missing, or whose first step is 0, counts as the finest: 1.

    Each block makes DC fall by 2^11 - 1 in 1 + 11 + 1 bits; two leave the range of 2,048 steps.
    """
    tables = codes(0, 11) + codes(1, 0)
    tables += b"" if step is None else segment(0xDB, bytes([0, step]) + b"\x01" * 63)
    blamed = {
        count
        for count in range(1, 40)
        if any(
            "blank" in text for text in read(assembled(before=tables, coded=bytes(count))).problems
        )
    }
    fewest = min(blamed)
    assert 2 * 13 <= 8 * fewest <= 5 * 13 + 16
    assert blamed == set(range(fewest, 40))
    inside = assembled(before=tables, coded=b"\x12" + bytes(fewest - 1) + b"\x12" * 9)
    assert not any("blank" in text for text in read(inside).problems)
