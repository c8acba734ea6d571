"""Flat bands along opposite sides or all four: the page was not clipped to the art."""

from __future__ import annotations

from typing import Final

from PIL import Image, ImageStat

from pytest_webdeliverable.measure.edges import color
from pytest_webdeliverable.measure.edges.strips import side_length, strip
from pytest_webdeliverable.measure.edges.types import SIDES, Margin, Margins, Side

LEAST: Final = 12
"""Least depth (px) of a margin; what is thinner is a gap."""
FLAT_SPREAD: Final = 12
"""Largest spread of a channel (8-bit codes) within a flat band after lossy compression."""
FILLED: Final = 0.5
"""Least share of the line inside the band that must differ from it: art that was placed on a page
ends in one straight line, type and drawings on a white ground do not."""
SEEN: Final = 12
"""Least difference of a channel (8-bit codes) between band and art."""


def _flat(lines: Image.Image) -> bool:
    extrema = lines.getextrema()
    return all(high - low <= FLAT_SPREAD for low, high in extrema)  # type: ignore[misc]


def _band(picture: Image.Image, side: Side) -> Margin | None:
    first = strip(picture, side, LEAST)
    if not _flat(first):
        return None
    across = picture.width if side in {"left", "right"} else picture.height
    low, high = LEAST, max(LEAST, across // 2)
    if _flat(strip(picture, side, high)):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        if _flat(strip(picture, side, middle)):
            low = middle
        else:
            high = middle
    mean = ImageStat.Stat(first).mean
    inner = strip(picture, side, low + 3).crop(
        (0, low + 1, side_length(picture.size, side), low + 3)
    )
    segments = inner.reduce((8, 2)) if inner.width >= 8 and inner.height >= 2 else inner
    data, bands = segments.tobytes(), len(segments.getbands())
    differs = sum(
        max(abs(data[at + band] - mean[band]) for band in range(bands)) >= SEEN
        for at in range(0, len(data), bands)
    )
    if differs < FILLED * len(data) / bands:
        return None
    clear = bands == 4 and mean[3] < 128
    return {
        "side": side,
        "depth": float(low),
        "color": "transparent" if clear else color.name(mean),
    }


def margin_facts(picture: Image.Image) -> Margins | None:
    """Return flat bands on opposite sides (or all four), or None."""
    found = {side: band for side in SIDES if (band := _band(picture, side))}
    paired = [
        side
        for one, other in (("left", "right"), ("top", "bottom"))
        if one in found and other in found
        for side in (one, other)
    ]
    if not paired:
        return None
    bands = [found[side] for side in SIDES if side in found and side in paired]
    depth = {band["side"]: int(band["depth"]) for band in bands}
    return {
        "bands": bands,
        "art": {
            "width": picture.width - depth.get("left", 0) - depth.get("right", 0),
            "height": picture.height - depth.get("top", 0) - depth.get("bottom", 0),
        },
    }
