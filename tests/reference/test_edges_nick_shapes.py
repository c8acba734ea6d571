"""What a corner is cut by: legs from the area of the px that are covered, counted by numpy or by hand.

Page is 200 and art 100, so that a code is a hundredth of the contrast.
"""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from PIL import Image

from pytest_webdeliverable.measure.edges.nick import CORNERS, LARGEST, SHAPES, _ideal, find_nick

PAGE, ART = 200, 100
FINE = 20
"""Samples of a pixel each way."""


@pytest.mark.parametrize("dark", [ART, 40])
def test_a_staircase_is_a_triangle_of_its_area(dark: int) -> None:
    """Rows of 5, 4, 3, 2, 1 px are 15 px, half of a square of sqrt(30) px; darker px cover nothing."""
    luma = np.full((40, 44), ART, np.uint8)
    for y in range(5):
        luma[y, : 5 - y] = PAGE
    luma[5, 5] = luma[4, 4] = dark
    found = find_nick(Image.fromarray(luma), CORNERS[0])
    assert found is not None
    assert (found.shape, found.contrast) == ("triangle", 100.0)
    assert (found.across, found.down) == pytest.approx((sqrt(30),) * 2)


def _cover(shape: str, across: float, down: float) -> np.ndarray:
    """Return the share of each pixel that a shape cuts off, by FINE * FINE samples."""
    at = (np.arange(24 * FINE) + 0.5) / FINE
    x, y = np.meshgrid(at / across, at / down)
    inside = x + y < 1 if shape == "triangle" else (x < 1) & (y < 1) & (np.hypot(1 - x, 1 - y) > 1)
    return inside.reshape(24, FINE, 24, FINE).mean((1, 3))


@pytest.mark.parametrize(
    ("shape", "across", "down"),
    [
        *(("triangle", leg, leg) for leg in (4.0, 5.3, 6.7, 8.5, 9.9, 12.2, 14.6)),
        *(("triangle", leg, 1.15 * leg) for leg in (4.6, 7.1, 10.4, 13.0)),
        *(("round", leg, leg) for leg in (9.0, 10.0, 11.3, 12.7, 14.5, 15.4, 18.2)),
    ],
)
def test_legs_are_told_by_area(shape: str, across: float, down: float) -> None:
    """The px covered tell a triangle's or rounding's legs far better than its first row does.

    What lies beyond the px looked at is little: legs are within 2 % of those drawn, and the share of
    their rectangle is the share that was drawn there, which numpy counts. Few px hardly tell a rounding
    from a straight cut of the same area, so that a small one may be told as that.
    """
    cover = _cover(shape, across, down)
    luma = np.full((40, 44), ART, np.uint8)
    luma[:24, :24] = np.rint(ART + (PAGE - ART) * cover)
    found = find_nick(Image.fromarray(luma), CORNERS[0])
    assert found is not None
    if shape == "triangle" or across > LARGEST - 2:
        assert found.shape == shape
    if found.shape == shape:
        assert (found.across, found.down) == pytest.approx((across, down), rel=0.025)
    wide, high = (1 + int(np.argmax(line < 0.695)) for line in (cover[0], cover[:, 0]))
    area = cover[:high, :wide].sum()
    assert found.across * found.down * SHAPES[found.shape] == pytest.approx(area, rel=0.01)


@pytest.mark.parametrize(
    ("shape", "x", "y", "want"),
    [
        ("square", 0.75, 0.0, 1.0),
        ("square", 1.25, 0.0, 0.0),
        ("triangle", 0.5, 0.25, 1.0),
        ("triangle", 0.75, 0.5, 0.0),
        # (1, 1) is the middle of the circle: 0.75 below it is 0.25 within, and half beyond is out.
        ("round", 0.875, 0.25, 0.5),
        ("round", 1.0, 0.125, 0.0),
        ("round", 0.125, 1.0, 0.0),
    ],
)
def test_the_rim_of_an_ideal_shape_ends_beyond_a_quarter(
    shape: str, x: float, y: float, want: float
) -> None:
    """Numbers that are exact in binary: at the rim's own width a point is in or out."""
    assert _ideal(shape, x, y, 0.25) == want
