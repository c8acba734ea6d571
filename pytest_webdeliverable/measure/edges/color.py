"""Colours as the facts name them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pytest_webdeliverable.measure.ciede2000 import delta_e

if TYPE_CHECKING:
    from collections.abc import Sequence

Rgb = tuple[float, float, float]


def codes(color: Sequence[float]) -> tuple[int, int, int]:
    """Return a colour rounded to 8-bit codes."""
    red, green, blue = (min(255, max(0, round(value))) for value in color[:3])
    return red, green, blue


def name(color: Sequence[float]) -> str:
    """Return a colour as ``#rrggbb``."""
    return "#{:02x}{:02x}{:02x}".format(*codes(color))


def difference(one: Sequence[float], other: Sequence[float]) -> float:
    """Return the CIEDE2000 difference of two colours in 8-bit sRGB codes."""
    return delta_e(codes(one), codes(other))
