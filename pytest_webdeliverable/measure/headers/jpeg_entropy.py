"""Cheap, sound tests of a JPEG's entropy-coded data that need no decoding.

Each test follows from ITU-T T.81: what it reports cannot be the work of an encoder that coded the
whole picture. Damage that leaves no such trace is found while decoding (see jpeg_probe).
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.headers import jpeg_tables as t81

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pytest_webdeliverable.measure.headers.jpeg_parts import Frame, HuffmanTable, Scan, Walk
    from pytest_webdeliverable.measure.limits import Limits

_RESTARTS: Final = re.compile(rb"\xff([\xd0-\xd7])")
_RESTART_CYCLE: Final = bytes(range(t81.RST0, t81.RST7 + 1))

_WINDOW: Final = 1 << 20
"""Bytes searched at a time; a file may be nothing but restart markers."""

_AC: Final = t81.COEFFICIENTS - 1
"""AC coefficients of a block."""
_DC_STEPS: Final = 2048
"""Range of a DC value at 8 bits a sample, -1024 to 1024 (T.81 A.3.3)."""
_FULL_BLOCKS: Final = 16
"""Blocks in a row with every AC coefficient the same negative number that no picture gives.

Such a block is an impulse whose highest frequency is as strong as its lowest; quantization steps
that grow with frequency do not let it arise even once. Sixteen leave room for doubt about one.
"""
_FULL_BLOCK: Final = 32
"""Coefficients a scan must code per block for that: a few low frequencies may well be equal."""


def entropy_problems(data: bytes, walk: Walk, frame: Frame, limits: Limits) -> list[str]:
    """Sentences on what is wrong with the picture data; none for data that may be intact."""
    process, coding = t81.FRAMES[frame.marker]
    if walk.hierarchical or process.startswith("differential"):
        return []
    problems = list(_incomplete_coverage(walk, frame, process))
    for scan in walk.scans:
        if frame.width * frame.height <= limits.pixels:  # there may be a marker for each unit
            problems.extend(_restart_problems(data, scan, frame, process))
        if coding == "huffman":
            fewest = _fewest_bits(scan, frame, process)
            if 8 * (scan.end - scan.start) < fewest:
                problems.append(
                    f"{scan.end - scan.start:,} bytes of picture data cannot hold"
                    f" {frame.width} x {frame.height} px"
                )
            zeros = _impossible_zeros(scan, walk, frame)
            if (
                zeros is not None
                and zeros <= scan.end - scan.start  # it may be any number in a damaged file
                and data.find(bytes(zeros), scan.start, scan.end) >= 0
            ):
                problems.append("a stretch of the picture data is blank (zero bytes)")
    return list(dict.fromkeys(problems))


def block_grid(scan: Scan, frame: Frame, unit: int) -> tuple[int, int]:
    """Columns and rows of minimum coded units of a scan (T.81 A.2).

    ``unit`` is the side of a data unit in samples: 8, or 1 in a lossless file.
    """
    h_most = max(component.h for component in frame.components)
    v_most = max(component.v for component in frame.components)
    if len(scan.parts) == 1:
        component = scan.parts[0].component
        columns = -(-frame.width * component.h // h_most)
        rows = -(-frame.height * component.v // v_most)
        return -(-columns // unit), -(-rows // unit)
    return -(-frame.width // (unit * h_most)), -(-frame.height // (unit * v_most))


def _unit(process: str) -> int:
    return 1 if process == "lossless" else t81.BLOCK


def _blocks_per_unit(scan: Scan) -> list[int]:
    if len(scan.parts) == 1:
        return [1]
    return [part.component.h * part.component.v for part in scan.parts]


def _shortest(table: HuffmanTable | None) -> int:
    return table.length if table else 1


def _fewest_bits(scan: Scan, frame: Frame, process: str) -> int:
    """Fewest bits in which the scan's blocks can be coded at all."""
    columns, rows = block_grid(scan, frame, _unit(process))
    if scan.first > 0:
        return 0  # one end-of-band run may stand for 32,767 blocks (T.81 G.1.2.2)
    bits = 0
    for part, blocks in zip(scan.parts, _blocks_per_unit(scan), strict=True):
        if process == "progressive" and scan.high > 0:
            each = 1  # one correction bit a block (T.81 G.1.2.1)
        else:
            each = _shortest(part.dc)
            if process in ("baseline", "extended"):
                each += _shortest(part.ac)
        bits += blocks * each
    return bits * columns * rows


def _restart_problems(data: bytes, scan: Scan, frame: Frame, process: str) -> Iterator[str]:
    """Check that restart markers count 0 to 7 over and over and are as many as the scan needs."""
    if scan.restart_interval == 0:
        if scan.has_restarts:
            yield "restart markers stand in the picture data although the file announces none"
        return
    columns, rows = block_grid(scan, frame, _unit(process))
    expected = -(-columns * rows // scan.restart_interval) - 1
    found = _restart_codes(data, scan, expected + 1)
    cycle = (_RESTART_CYCLE * (len(found) // len(_RESTART_CYCLE) + 1))[: len(found)]
    # One marker behind the last interval is superfluous, but loses nothing.
    if found != cycle or not expected <= len(found) <= expected + 1:
        yield "restart markers are missing or out of order: part of the picture data is lost"


def _restart_codes(data: bytes, scan: Scan, enough: int) -> bytes:
    """Collect the second bytes of a scan's restart markers, until there are more than enough."""
    found = b""
    start = scan.start
    while start < scan.end and len(found) <= enough:
        stop = min(start + _WINDOW, scan.end)
        while stop < scan.end and data[stop - 1] == 0xFF:
            stop += 1
        found += b"".join(_RESTARTS.findall(data, start, stop))
        start = stop
    return found


def _incomplete_coverage(walk: Walk, frame: Frame, process: str) -> Iterator[str]:
    """Check that the scans together bring every coefficient of every component, to its last bit."""
    if process == "lossless" or not walk.scans:
        return
    lowest: dict[int, list[int | None]] = {
        component.ident: [None] * t81.COEFFICIENTS for component in frame.components
    }
    for scan in walk.scans:
        if scan.first > scan.last or scan.last > _AC:
            yield "the header of a scan is damaged"
            return
        for part in scan.parts:
            for index in range(scan.first, scan.last + 1):
                lowest[part.component.ident][index] = scan.low
    if any(bits[0] is None for bits in lowest.values()):
        yield "part of the picture data is missing: a color component has no scan"
    elif any(bit != 0 for bits in lowest.values() for bit in bits):
        yield "the file stops before the picture's finest detail: its last scans are missing"


def _impossible_zeros(scan: Scan, walk: Walk, frame: Frame) -> int | None:
    """Bytes of zeros in a row that this scan cannot contain, or None when any number is possible.

    Zero bits decode to the first code of each table over and over. That is a flat area when those
    codes are "no DC difference" and "end of block"; it is impossible when they make the DC value
    fall without end, or fill block after block with the same coefficient.
    """
    if t81.FRAMES[frame.marker][0] == "lossless" or scan.high > 0:
        return None  # correction bits are raw bits, which may be anything
    steps = _DC_STEPS << max(frame.precision - 8, 0)
    unit_bits = full_blocks = 0
    units_needed: list[int] = []
    for part, blocks in zip(scan.parts, _blocks_per_unit(scan), strict=True):
        bits = 0
        if scan.first == 0:
            if part.dc is None or part.dc.symbol > 15:
                return None
            bits += part.dc.length + part.dc.symbol
            if part.dc.symbol:
                step = max(1, (walk.steps.get(part.component.ident) or (1,))[0])
                fall = (step * ((1 << part.dc.symbol) - 1)) << scan.low
                units_needed.append(-(-(steps // fall + 2) // blocks))
        if scan.last > 0:
            if part.ac is None:
                return None
            run, size = part.ac.symbol >> 4, part.ac.symbol & 15
            if size:
                symbols = -(-(scan.last - max(scan.first, 1) + 1) // (run + 1))
                bits += symbols * (part.ac.length + size)
                if symbols >= _FULL_BLOCK:
                    full_blocks += blocks
            elif run == 15:
                return None
            else:
                bits += part.ac.length + run
        unit_bits += blocks * bits
    if full_blocks:
        units_needed.append(-(-_FULL_BLOCKS // full_blocks))
    if not units_needed:
        return None
    # One unit more, since the zeros may begin in the middle of one.
    return (min(units_needed) + 1) * unit_bits // 8 + 2
