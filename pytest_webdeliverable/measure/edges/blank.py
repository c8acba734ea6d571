"""One flat color, or next to it: an export that went wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from PIL import Image, ImageStat

from pytest_webdeliverable.measure.edges import color
from pytest_webdeliverable.measure.edges.strips import normal

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.edges.types import Blank

FLAT_SPREAD: Final = 8
"""Largest spread of a channel (8-bit codes) still called flat: JPEG noise of a flat area at quality
75 stays within a few codes, and 8 codes are near the least one sees. Common practice, no source."""
SAMPLES: Final = 48
"""Sample points across and down for the first look."""


def _spread(picture: Image.Image) -> int:
    """Return the largest spread of a channel of a picture in RGB or RGBA."""
    extrema: list[tuple[int, int]] = picture.getextrema()  # type: ignore[assignment]
    return max(high - low for low, high in extrema)


def blank_facts(picture: Image.Image) -> Blank:
    """Return whether the picture is one color; most pictures are settled by a few samples."""
    size = min(SAMPLES, picture.width), min(SAMPLES, picture.height)
    look = normal(picture.resize(size, Image.Resampling.NEAREST))
    spread = _spread(look)
    if spread <= FLAT_SPREAD:
        spread = max(spread, _spread(normal(picture)))
    return {
        "flat": spread <= FLAT_SPREAD,
        "color": color.name(ImageStat.Stat(look.convert("RGB")).mean),
        "spread": spread,
    }
