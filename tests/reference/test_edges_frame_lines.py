"""The lines of a left-over frame: sides of a few grays in which one condition alone decides, worked by hand.

A side has 60 segments and 24 lines; 6 % of them, 4 segments, are left out at both ends, so that 52 are asked.
"""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from edge_strips import gray, side_of

from pytest_webdeliverable.measure.edges.outline import Line, _lines, _stops

COUNT, LINES = 60, 24
ART, INK = 100.0, 200.0


def _luma(inset: int = 6, width: int = 2, count: int = COUNT, ink: float = INK) -> np.ndarray:
    """Art with one line, which stops a few px before the side's ends."""
    luma = np.full((LINES, count), ART)
    luma[inset : inset + width, 1:-1] = ink
    return luma


def _found(luma: np.ndarray, segment: int = 8) -> list[tuple[int, int]]:
    """Return inset and width of each line."""
    return [(line.inset, line.width) for line in _lines(side_of(gray(luma), segment))]


@pytest.mark.parametrize(
    ("inset", "width"), [*product((1, 2, 3, 9, 15, 16, 17), (1, 2, 4, 5)), (16, 6), (1, 6), (18, 1)]
)
def test_up_to_five_px_wide_and_sixteen_in(inset: int, width: int) -> None:
    """What the manual promises; one line more where a frame's first line is a mix. Wider is art."""
    want = [(inset, width)] if width <= 5 and inset <= 17 else []
    assert _found(_luma(inset, width)) == want


def test_a_wide_band_hides_no_line_further_in() -> None:
    """Six px are no line, nor are the seven up to the next one, but two beyond them are."""
    luma = _luma(14)
    luma[1:7] = INK
    assert _found(luma) == [(14, 2)]


def test_a_line_on_the_edge_is_a_gap() -> None:
    """No frame has its first line there."""
    assert _found(_luma(0, 2)) == []


def test_all_of_a_line() -> None:
    """Its colors are those of its own segments and of the second line beyond, but for 4 at each end."""
    luma = _luma(8, 3)
    luma[8:11, 4] -= 8
    luma[10, :] = 199
    luma[12, 30] = 152
    luma[:, :4] = luma[:, -4:] = 30
    (line,) = _lines(side_of(gray(luma), 8))
    ink = INK - 8 / 52
    assert line == Line(
        8,
        3,
        (pytest.approx(ink), 128.0, 128.0),
        (pytest.approx(ART + 1), 128.0, 128.0),
        (pytest.approx(ink),) * 3,
        (True, True),
    )


@pytest.mark.parametrize(
    ("count", "out"), [(12, 2), (20, 2), (41, 2), (42, 3), (58, 3), (60, 4), (100, 6)]
)
def test_the_ends_of_a_side_are_left_out(count: int, out: int) -> None:
    """6 % of it, two segments at least: there the line may be of any color, one further in it may not."""
    for side in (slice(None), slice(None, None, -1)):
        luma = _luma(count=count)
        luma[6:8, :out][:, side] = 20
        assert _found(luma[:, side]) == [(6, 2)]
        luma[6:8, out] = 20
        assert _found(luma[:, side]) == []


@pytest.mark.parametrize(("count", "found"), [(11, False), (12, True)])
def test_the_shortest_side(count: int, found: bool) -> None:
    """Eight segments between its ends."""
    assert bool(_found(_luma(count=count))) == found
    assert isinstance(_lines(side_of(gray(_luma(count=count)))), list)


@pytest.mark.parametrize(("off", "found"), [(24, True), (25, False)])
@pytest.mark.parametrize("at", [4, 30, COUNT - 5])
def test_how_still_a_line_is(off: int, found: bool, at: int) -> None:
    """24 codes of luma from its lightest segment to its darkest."""
    luma = _luma(width=1)
    luma[6, at] -= off
    assert _found(luma) == ([(6, 1)] if found else [])


@pytest.mark.parametrize(
    ("first", "second", "lines"),
    [
        (200, 200, [(6, 2)]),
        (200, 196, [(6, 2)]),
        (200, 195, [(6, 1), (7, 1)]),
        (195, 200, [(6, 1), (7, 1)]),
        # The second is too restless to be a part of the first.
        (200, None, [(6, 1)]),
        (None, 200, [(7, 1)]),
    ],
)
def test_where_a_line_begins_and_ends(
    first: int | None, second: int | None, lines: list[tuple[int, int]]
) -> None:
    """Five codes make another line of it; a restless one is none, even if its mean is the same."""
    luma = _luma()
    for line, own in ((6, first), (7, second)):
        luma[line] = 200 + np.where(np.arange(COUNT) % 2, 13, -13) if own is None else own
    assert _found(luma) == lines


def test_a_restless_line_on_the_edge() -> None:
    """It is no part of a line of its mean right inside it, and the second line from the edge may be one."""
    luma = _luma(2, 1)
    luma[1] = 200 + np.where(np.arange(COUNT) % 2, 13, -13)
    assert _found(luma) == [(2, 1)]


@pytest.mark.parametrize(
    ("inset", "width", "want"), [(3, 2, [(3, 2)]), (5, 1, [(5, 1)]), (6, 1, []), (7, 1, [])]
)
def test_few_lines_of_a_small_picture(inset: int, width: int, want: list[tuple[int, int]]) -> None:
    """Of eight lines: a line's mix and the art beyond it must be among them."""
    assert _found(_luma(inset, width)[:8]) == want


@pytest.mark.parametrize("line", [2, 6])
@pytest.mark.parametrize(("before", "after"), [(150, 150), (100, 240), (240, 100)])
def test_one_line_on_each_side_may_be_a_mix(line: int, before: int, after: int) -> None:
    """Whatever they show, which is restless here, what lies beyond them is the art."""
    restless = np.where(np.arange(COUNT) % 2, 20, -20)
    luma = _luma(line)
    luma[line - 1], luma[line + 2] = before + restless, after + restless
    assert _found(luma) == [(line, 2)]


@pytest.mark.parametrize(("other", "found"), [(20, True), (21, False)])
@pytest.mark.parametrize("beyond", [4, 9])
def test_a_frame_is_seen_along_most_of_it(other: int, found: bool, beyond: int) -> None:
    """60 % of 50 segments are 30; in the others the art is as light as the line, on one side of it."""
    luma = _luma(count=56)
    luma[beyond, 10 : 10 + other] = INK
    assert bool(_found(luma)) == found


@pytest.mark.parametrize(("ink", "found"), [(110, True), (109, False), (90, True), (91, False)])
def test_how_plainly_a_frame_is_seen(ink: int, found: bool) -> None:
    """Ten codes lighter or darker."""
    assert bool(_found(_luma(ink=ink))) == found


@pytest.mark.parametrize(
    ("outer", "inner", "found"),
    [(81, 120, True), (80, 120, False), (120, 81, True), (120, 80, False)],
)
def test_the_art_goes_on_beyond_a_frame(outer: int, inner: int, found: bool) -> None:
    """It changes by less than half of what sets the line, 200, apart: 39 of 80 codes, not 40 of 80."""
    luma = _luma()
    luma[:6], luma[8:] = outer, inner
    assert bool(_found(luma)) == found


@pytest.mark.parametrize(
    ("line", "first", "last", "stops"),
    [
        (9, 4, 8, True),
        (9, 0, 4, True),
        (9, 5, 8, False),
        (9, 8, 30, False),
        (3, 1, 2, True),
        (3, 2, 30, False),
        # Nearer to the edge there are too few px to tell.
        (2, 0, 0, True),
        (1, 0, 0, True),
    ],
)
@pytest.mark.parametrize("end", [0, 1])
def test_where_a_line_stops_before_a_corner(
    line: int, first: int, last: int, stops: bool, end: int
) -> None:
    """Up to where its neighbor runs, one px less than it is in: px 0 to 7 of one 9 px in.

    Some px are 10 codes off; half of those asked make 5 in the mean, which is the least.
    """
    luma = np.full((LINES, 120), INK)
    luma[line, first:last] = INK - 10
    own = side_of(gray(luma[:, ::-1] if end else luma))
    want = [line < 3, line < 3]
    want[end] = stops
    assert _stops(own, line, (INK, 128.0, 128.0)) == tuple(want)


@pytest.mark.parametrize(("off", "stops"), [(5, True), (4, False)])
def test_how_far_off_the_corner_is(off: int, stops: bool) -> None:
    """Five codes of luma; of chroma, which counts half, about ten."""
    luma = np.full((LINES, 120), INK - off)
    assert _stops(side_of(gray(luma)), 6, (INK, 128.0, 128.0)) == (stops,) * 2
    for band in (1, 2):
        ycc = np.full((LINES, 120, 3), 128.0)
        ink = [128.0] * 3
        ink[band] += 2 * off + (2 if stops else -2)
        assert _stops(side_of(ycc), 6, (ink[0], ink[1], ink[2])) == (stops,) * 2
