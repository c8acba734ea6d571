"""Colors as the facts name them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.ciede2000 import delta_e

if TYPE_CHECKING:
    from collections.abc import Sequence

Rgb = tuple[float, float, float]
Ycc = tuple[float, float, float]
"""Luma and chroma as JFIF uses them (ITU-R BT.601, 0..255, 128 neutral)."""


LUMA_TELLS: Final = 16.0
"""Codes of luma between page and art from which luma alone can tell."""


def codes(color: Sequence[float]) -> tuple[int, int, int]:
    """Return a color rounded to 8-bit codes."""
    red, green, blue = (min(255, max(0, round(value))) for value in color[:3])
    return red, green, blue


def name(color: Sequence[float]) -> str:
    """Return a color as ``#rrggbb``."""
    return "#{:02x}{:02x}{:02x}".format(*codes(color))


def difference(one: Sequence[float], other: Sequence[float]) -> float:
    """Return the CIEDE2000 difference of two colors in 8-bit sRGB codes."""
    return delta_e(codes(one), codes(other))


def distance(one: Ycc, other: Ycc) -> float:
    """Return the codes between two colors: luma counts whole, chroma half."""
    return abs(one[0] - other[0]) + 0.5 * max(abs(one[1] - other[1]), abs(one[2] - other[2]))


def sharpness(page: Ycc, soon: Ycc, later: Ycc) -> float:
    """Return how much of the way from a page color to the art is made on the earlier of two lines.

    By luma or by luma and chroma, whichever says more: 4:2:0 spreads chroma over four lines and more,
    and where page and art are equally light luma says nothing.
    """
    near, far = distance(page, soon), distance(page, later)
    both = near / max(near, far, 1.0)
    if abs(later[0] - page[0]) < LUMA_TELLS:
        return both
    luma = abs(soon[0] - page[0])
    return max(both, luma / max(luma, abs(later[0] - page[0])))


def rgb(ycc: Ycc) -> Rgb:
    """Return R, G, B (0..255) of luma and chroma."""
    y, b, r = ycc[0], ycc[1] - 128, ycc[2] - 128
    return y + 1.402 * r, y - 0.344136 * b - 0.714136 * r, y + 1.772 * b
