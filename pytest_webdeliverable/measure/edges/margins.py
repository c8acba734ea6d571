"""Flat bands along opposite sides or all four: the page was not clipped to the art."""

from __future__ import annotations

from typing import Final

from PIL import Image, ImageChops, ImageStat

from pytest_webdeliverable.measure.edges import color
from pytest_webdeliverable.measure.edges.strips import normal, side_length, strip
from pytest_webdeliverable.measure.edges.types import SIDES, Margin, Margins, Side

LEAST: Final = 12
"""Least depth (px) of a margin; what is thinner is a gap."""
FLAT_SPREAD: Final = 12
"""Largest spread of a channel (8-bit codes) within a flat band after lossy compression."""
MOST_PAGE: Final = 0.26
"""Most of a picture's width or height for a band of page around the art; wider ones are a ground with a shape on it."""
FILLED: Final = 0.75
"""Least share of the line inside the band that must differ from it: art that was placed on a page
ends in one straight line, type and drawings on a white ground do not."""
BLOCK: Final = 8
"""Px of a JPEG block (ITU-T T.81): within it a band's last lines may ring before the art begins."""
OPPOSITE: Final[tuple[tuple[Side, Side], ...]] = (("left", "right"), ("top", "bottom"))
SEEN: Final = 12
"""Least difference of a channel (8-bit codes) between band and art."""


Spread = list[tuple[int, int]]


def _spread(picture: Image.Image, side: Side, first: int, last: int) -> Spread:
    """Return the extremes of each band in some lines of a side, counted from the edge."""
    width, height = picture.size
    box = {
        "left": (first, 0, last, height),
        "right": (width - last, 0, width - first, height),
        "top": (0, first, width, last),
        "bottom": (0, height - last, width, height - first),
    }[side]
    return normal(picture.crop(box)).getextrema()  # type: ignore[return-value]


def _joined(one: Spread, other: Spread) -> Spread:
    return [(min(a, c), max(b, d)) for (a, b), (c, d) in zip(one, other, strict=True)]


def _flat(spread: Spread) -> bool:
    return all(high - low <= FLAT_SPREAD for low, high in spread)


def _flat_depth(picture: Image.Image, side: Side) -> int:
    """Return how deep (px) a side is flat; 0 if less than a margin, or as deep as half the picture."""
    limit = (picture.width if side in {"left", "right"} else picture.height) // 2
    if limit <= LEAST:
        return 0
    known = _spread(picture, side, 0, LEAST)
    if not _flat(known):
        return 0
    low, step = LEAST, LEAST
    while True:
        high = min(limit, low + step)
        joined = _joined(known, _spread(picture, side, low, high))
        if not _flat(joined):
            break
        if high == limit:
            return 0
        low, known, step = high, joined, 2 * step
    while high - low > 1:
        middle = (low + high) // 2
        joined = _joined(known, _spread(picture, side, low, middle))
        if _flat(joined):
            low, known = middle, joined
        else:
            high = middle
    return low


def _is_art(segments: Image.Image, line: int, page: list[float]) -> bool:
    """Whether enough of a line differs from the page."""
    row = segments.crop((0, line, segments.width, line + 1))
    flat = Image.new(row.mode, row.size, tuple(round(value) for value in page))
    change, *others = ImageChops.difference(row, flat).split()
    for other in others:
        change = ImageChops.lighter(change, other)
    return sum(change.histogram()[SEEN:]) >= FILLED * row.width


def _band(picture: Image.Image, side: Side, flat: dict[Side, int]) -> Margin | None:
    """Return the band of a side; ``flat`` is how deep (px) each side is flat."""
    low = flat[side]
    if not low:
        return None
    mean = ImageStat.Stat(strip(picture, side, LEAST)).mean
    # Between the bands of the two sides beside it, if both are flat as well.
    first, last = next((flat[a], flat[b]) for a, b in OPPOSITE if side not in {a, b})
    most = MOST_PAGE * side_length(picture.size, side)
    if not (0 < first <= most and 0 < last <= most):
        first = last = 0
    inner = strip(picture, side, low + BLOCK + 1).crop(
        (first, low, side_length(picture.size, side) - last, low + BLOCK + 1)
    )
    segments = inner.reduce((BLOCK, 1)) if inner.width >= BLOCK else inner
    bands = len(segments.getbands())
    begins = next((y for y in range(segments.height) if _is_art(segments, y, mean)), None)
    if begins is None:
        return None
    depth = low + begins
    clear = bands == 4 and mean[3] < 128
    return {
        "side": side,
        "depth": float(depth),
        "color": "transparent" if clear else color.name(mean),
    }


def margin_facts(picture: Image.Image) -> Margins | None:
    """Return flat bands on opposite sides (or all four), or None."""
    found: dict[Side, Margin] = {}
    flat = {side: _flat_depth(picture, side) for side in SIDES}
    for pair in OPPOSITE:
        bands = [band for side in pair if (band := _band(picture, side, flat))]
        if len(bands) == len(pair):
            found.update((band["side"], band) for band in bands)
    if not found:
        return None
    bands = [found[side] for side in SIDES if side in found]
    depth = {band["side"]: int(band["depth"]) for band in bands}
    return {
        "bands": bands,
        "art": {
            "width": picture.width - depth.get("left", 0) - depth.get("right", 0),
            "height": picture.height - depth.get("top", 0) - depth.get("bottom", 0),
        },
    }
