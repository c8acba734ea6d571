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
NEIGHBOUR: Final = 2
"""Distance, in quality, of the neighbours that a dip is measured against."""
SQUARES: Final = 4
"""Squares of 128 px that are saved again and again: 256 x 256 px."""
HALF_BLOCK: Final = 4
"""Half of a JPEG block, px."""
SUSPICION: Final = 0.05
"""A dip below this is never worth comparing with the moved picture."""
THRESHOLD: Final = 0.05
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


def saved(gray: Image.Image, quality: int) -> Image.Image:
    """Save as JPEG in memory and open again."""
    buffer = io.BytesIO()
    gray.save(buffer, "JPEG", quality=quality)
    again = Image.open(buffer, formats=["JPEG"])
    again.load()
    return again


def change(gray: Image.Image, quality: int) -> float:
    """Mean squared change, in code values, when saved with ``quality``."""
    counts = ImageChops.difference(gray, saved(gray, quality)).histogram()
    total = sum(count * value * value for value, count in enumerate(counts) if count)
    return total / (gray.width * gray.height)


def dip(before: float, at: float, after: float) -> float:
    """How far ``at`` lies below the geometric mean of its neighbours, as a logarithm."""
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
    few = corners[: max(1, SQUARES * 128 * 128 // (side * side))]
    sheet = mosaic(gray, side, few)
    changes = {q: change(sheet, q) for q in range(FIRST_PROBE - NEIGHBOUR, top + NEIGHBOUR + 1)}
    dips = {
        q: dip(changes[q - NEIGHBOUR], changes[q], changes[q + NEIGHBOUR])
        for q in range(FIRST_PROBE, top + 1)
    }
    first = max(dips, key=lambda q: dips[q])
    score = dips[first]
    if score > SUSPICION:
        score -= _dip_by_content(gray, side, few, first, last)
    found = score > THRESHOLD
    return {
        "score": round(score, 4),
        "threshold": THRESHOLD,
        "found": found,
        "first-quality": first if found else None,
        "undecided": None,
    }


def _dip_by_content(
    gray: Image.Image, side: int, corners: Sequence[tuple[int, int]], first: int, last: int
) -> float:
    """Dip at ``first`` of the same squares moved by half a block and saved once with ``last``."""
    moved = [
        (min(x + HALF_BLOCK, gray.width - side), min(y + HALF_BLOCK, gray.height - side))
        for x, y in corners
    ]
    sheet = saved(mosaic(gray, side, moved), last)
    return dip(*(change(sheet, first + step) for step in (-NEIGHBOUR, 0, NEIGHBOUR)))
