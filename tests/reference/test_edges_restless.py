"""Whether a side's outermost line stands out from those inside: borders worked by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from edge_strips import side_of

from pytest_webdeliverable.measure.edges.part import CALM, INNER, restless

BANDS = pytest.mark.parametrize("band", [0, 1, 2], ids=["luma", "blue", "red"])


def _stepped(outer: float, inner: float, at: int = 2, band: int = 0, **how: Any) -> np.ndarray:
    """Lines all alike but for two steps: of line 0 to 1, and of line ``at`` to the next.

    ``outer_sign`` and ``inner_sign`` give each segment's direction; steps of both directions have no
    mean.
    """
    lines, count = how.get("lines", 24), how.get("count", 48)
    strip = np.full((lines, count, 3), 128.0)
    strip[: at + 1, :, band] += inner * np.resize(how.get("inner_sign", [1]), count)
    strip[0, :, band] += outer * np.resize(how.get("outer_sign", [1]), count)
    return strip


BOTH_WAYS = [1, -1]


@BANDS
@pytest.mark.parametrize("at", range(1, CALM))
@pytest.mark.parametrize(
    ("outer", "inner", "found"),
    # More than 1.8 times the step inside, and 2 codes.
    [(2, 0, False), (3, 0, True), (20, 10, False), (21, 10, True), (38, 20, False), (39, 20, True)],
)
def test_a_step_is_clearly_larger_than_those_inside(
    outer: int, inner: int, found: bool, at: int, band: int
) -> None:
    """Up and down by turns, so that only its size tells; each of the four lines inside counts."""
    signs = {"outer_sign": BOTH_WAYS, "inner_sign": BOTH_WAYS}
    assert restless(side_of(_stepped(outer, inner, at, band, **signs))) == found


@BANDS
@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("at", range(1, CALM))
@pytest.mark.parametrize(
    ("outer", "inner", "found"),
    # More than 1.6 times as far one way as the lines inside, and a code; sizes alone (1.8) say no.
    [(20, 12, False), (22, 12, True), (32, 20, False), (34, 20, True)],
)
def test_a_step_all_one_way_needs_less(
    outer: int, inner: int, found: bool, at: int, sign: int, band: int
) -> None:
    """Lighter or darker all along, beside lines that step one way as well."""
    signs = {"outer_sign": [sign], "inner_sign": [-sign]}
    assert restless(side_of(_stepped(outer, inner, at, band, **signs))) == found


@BANDS
@pytest.mark.parametrize(("outer", "found"), [(28, False), (29, True), (30, True)])
def test_a_step_all_one_way_is_larger_as_well(outer: int, found: bool, band: int) -> None:
    """1.35 * 20 + 1 = 28 codes, where the lines inside step by 20 up and down."""
    strip = _stepped(outer, 20, 2, band, inner_sign=BOTH_WAYS)
    assert restless(side_of(strip)) == found


def test_only_near_lines_say_what_is_calm() -> None:
    """A step as large behind the fifth line says nothing about the side."""
    for sign in ([1], BOTH_WAYS):
        signs = {"outer_sign": sign, "inner_sign": sign}
        assert not restless(side_of(_stepped(40, 40, CALM - 1, **signs)))
        assert restless(side_of(_stepped(40, 40, CALM, **signs)))


@pytest.mark.parametrize(("lines", "found"), [(INNER + 5, True), (INNER + 4, False)])
def test_the_fewest_lines(lines: int, found: bool) -> None:
    """Six lines inside, and what leads to them."""
    assert restless(side_of(_stepped(40, 0, lines=lines))) == found


@pytest.mark.parametrize(
    ("count", "first", "last", "found"),
    # By 5 of 60, where 4 segments of 4 codes that lie on two of them tell 2.4 and 0.8; by 5 of 66, the
    # last one by itself; by 4 of 20, where 2 segments of 4 codes tell 2. More than 2 is restless.
    [
        (60, 5, 10, True),
        (60, 4, 8, False),
        (60, 55, 60, True),
        (66, 5, 9, True),
        (66, 65, 66, True),
        (20, 4, 8, True),
        (20, 4, 6, False),
        (20, 16, 20, True),
    ],
)
def test_a_twelfth_of_a_side_is_looked_at_by_itself(
    count: int, first: int, last: int, found: bool
) -> None:
    """But four segments at least; the last stretch may be shorter."""
    at = np.arange(count)
    sign = np.where((at >= first) & (at < last), (-1) ** (at + 1), 0)
    assert restless(side_of(_stepped(4, 0, count=count, outer_sign=sign))) == found
