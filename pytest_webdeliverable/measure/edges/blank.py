"""One flat color, or next to it: an export that went wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from PIL import Image, ImageStat

from pytest_webdeliverable.measure.edges import color
from pytest_webdeliverable.measure.edges.strips import normal
from pytest_webdeliverable.measure.rows import strips

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.edges.types import Blank

FLAT_SPREAD: Final = 8
"""Largest spread of a channel (8-bit codes) still called flat: JPEG noise of a flat area at quality
75 stays within a few codes, and 8 codes are near the least one sees. Common practice, no source."""
SAMPLES: Final = 48
"""Sample points across and down for the first look."""


def _spread(picture: Image.Image) -> int:
    """Return the largest spread of a channel of a picture in RGB or RGBA, as far as it shows."""
    lows, highs = [255] * 4, [0] * 4
    for part in strips(picture):
        # Premultiplied: the color of what is see-through is not seen.
        shown = part.convert("RGBa") if part.mode == "RGBA" else part
        extrema: list[tuple[int, int]] = shown.getextrema()  # type: ignore[assignment]
        for channel, (low, high) in enumerate(extrema):
            lows[channel], highs[channel] = min(lows[channel], low), max(highs[channel], high)
    return max(high - low for low, high in zip(lows, highs, strict=True))


def blank_facts(picture: Image.Image) -> Blank:
    """Return whether the picture is one color; most pictures are settled by a few samples."""
    size = min(SAMPLES, picture.width), min(SAMPLES, picture.height)
    look = normal(picture.resize(size, Image.Resampling.NEAREST))
    spread = _spread(look)
    if spread <= FLAT_SPREAD:
        spread = max(spread, _spread(normal(picture)))
    clear = look.mode == "RGBA" and not any(look.getchannel("A").histogram()[FLAT_SPREAD + 1 :])
    return {
        "flat": spread <= FLAT_SPREAD,
        "color": "transparent" if clear else color.name(ImageStat.Stat(look.convert("RGB")).mean),
        "spread": spread,
    }
