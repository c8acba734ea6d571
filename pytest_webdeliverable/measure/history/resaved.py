"""Was the picture a JPEG of lower quality before it was saved as this JPEG? Tell by re-compression.

Saving a picture once more with the tables it already went through changes it least. So the picture
is saved in memory with each lower quality; a dip of the change at one quality says that the picture
was saved with that quality before (H. Farid, Exposing Digital Forgeries from JPEG Ghosts, IEEE
TIFS 4(1), 2009). A picture with the same content but no such past (the same picture moved by half
a block and saved once) shows how much of a dip its content makes by itself.
"""

from __future__ import annotations

import io
from math import log
from typing import TYPE_CHECKING, Final, TypedDict

from PIL import Image, ImageChops

from pytest_webdeliverable.measure.history.mosaic import mosaic

if TYPE_CHECKING:
    from collections.abc import Sequence

FIRST_PROBE: Final = 40
"""Lowest first quality looked for; below it a picture is visibly broken."""
MARGIN: Final = 5
"""The first quality must be at least this much below the last to be told apart."""
NEIGHBOR: Final = 2
"""Distance, in quality, of the neighbors that a dip is measured against."""
SQUARES: Final = 4
"""Squares of 128 px that are saved again and again: 256 x 256 px."""
HALF_BLOCK: Final = 4
"""Half of a JPEG block, px."""
MOST_PLAIN: Final = 0.78
"""Share of plain pixels, even in the most detailed squares, that marks flat art, whose few edges
make dips of their own; photographs used for tuning stay below but for three near-black ones."""
CANDIDATES: Final = 4
"""Deepest dips that are compared with the moved picture."""
LOWER_SHARE: Final = 0.6
"""A dip at a lower quality counts as the first if it is at least this share of the deepest."""
THRESHOLD: Final = 0.04
"""Dip beyond the moved picture's from which the picture counts as saved again."""


class Resaved(TypedDict("Names", {"first-quality": int | None})):
    """Whether a JPEG was a JPEG of lower quality before.

    ``score``: natural logarithm of how much less the picture changes at ``first-quality`` than two
    steps beside it, less the same of the moved picture.
    """

    score: float
    threshold: float
    found: bool
    undecided: str | None


def undecided(reason: str) -> Resaved:
    """Give the answer for a picture that cannot tell."""
    return {
        "score": 0.0,
        "threshold": THRESHOLD,
        "found": False,
        "first-quality": None,
        "undecided": reason,
    }


def plain_share(sheet: Image.Image) -> float:
    """Share of the pixels that differ from their left neighbor by no more than one code value."""
    counts = ImageChops.difference(sheet, ImageChops.offset(sheet, 1, 0)).histogram()
    return (counts[0] + counts[1]) / (sheet.width * sheet.height)


def saved(gray: Image.Image, quality: int) -> Image.Image:
    """Save as JPEG in memory and open again."""
    buffer = io.BytesIO()
    gray.save(buffer, "JPEG", quality=quality)
    return Image.open(buffer, formats=["JPEG"])


def change(gray: Image.Image, quality: int) -> float:
    """Mean squared change, in code values, when saved with ``quality``."""
    counts = ImageChops.difference(gray, saved(gray, quality)).histogram()
    total = sum(count * value * value for value, count in enumerate(counts) if count)
    return total / (gray.width * gray.height)


def dip(before: float, at: float, after: float) -> float:
    """How far ``at`` lies below the geometric mean of its neighbors, as a logarithm."""
    floor = 1e-3
    return 0.5 * (log(max(before, floor)) + log(max(after, floor))) - log(max(at, floor))


def resaved(
    gray: Image.Image, side: int, corners: Sequence[tuple[int, int]], quality: float
) -> Resaved:
    """Look for an earlier, lower JPEG quality on the same block grid."""
    last = round(quality)
    top = last - MARGIN
    if top < FIRST_PROBE:
        return undecided("the quality is so low that an earlier one cannot be told")
    few = corners[: SQUARES * 128 * 128 // (side * side)]
    sheet = mosaic(gray, side, few)
    if plain_share(sheet) > MOST_PLAIN:
        return undecided("too much of the picture is plain to show an earlier quality")
    changes = {q: change(sheet, q) for q in range(FIRST_PROBE - NEIGHBOR, top + NEIGHBOR + 1)}
    dips = {
        q: dip(changes[q - NEIGHBOR], changes[q], changes[q + NEIGHBOR])
        for q in range(FIRST_PROBE, top + 1)
    }
    moved = _moved(gray, side, few, last)
    beyond = {q: dips[q] - _dip_at(moved, q) for q in _candidates(dips)}
    best = max(0.0, *beyond.values())
    # steps that are a fraction of the first ones make dips too, always at higher qualities
    first = min(q for q, value in beyond.items() if value >= LOWER_SHARE * best or not best)
    found = best > THRESHOLD
    return {
        "score": round(best, 4),
        "threshold": THRESHOLD,
        "found": found,
        "first-quality": first if found else None,
        "undecided": None,
    }


def _candidates(dips: dict[int, float]) -> list[int]:
    """Qualities of the deepest dips, apart from each other."""
    chosen: list[int] = []
    for q in sorted(dips, key=lambda q: -dips[q]):
        if all(abs(q - other) > NEIGHBOR for other in chosen):
            chosen.append(q)
        if len(chosen) == CANDIDATES:
            break
    return chosen


def _moved(
    gray: Image.Image, side: int, corners: Sequence[tuple[int, int]], last: int
) -> Image.Image:
    """Move the squares by half a block and save them once, with ``last``."""
    moved = [
        (min(x + HALF_BLOCK, gray.width - side), min(y + HALF_BLOCK, gray.height - side))
        for x, y in corners
    ]
    return saved(mosaic(gray, side, moved), last)


def _dip_at(sheet: Image.Image, quality: int) -> float:
    return dip(*(change(sheet, quality + step) for step in (-NEIGHBOR, 0, NEIGHBOR)))
