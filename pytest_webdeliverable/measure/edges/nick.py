"""Corner nicks: a few pixels of page color where two sides meet.

A nick is one still patch in the corner, cut off sharply, its rows no longer the further in they lie, and
a color that the picture around it does not have. Foliage and grain have their dark and light spots
elsewhere too, so that their corners do not count.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, pi, sqrt
from statistics import fmean, median
from typing import TYPE_CHECKING, Final

from PIL import Image

from pytest_webdeliverable.measure.edges.strips import normal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pytest_webdeliverable.measure.edges.types import Side

REACH: Final = 28
"""px of the corner looked at, each way."""
LARGEST: Final = 16
"""px; a larger patch is a shape of the art."""
SMALLEST: Final = 2
FEWEST: Final = 3
"""px of a patch."""
SHARP_RIM: Final = 0.8
"""Share of the pixels right beyond a patch that differ from it by half of the contrast or more."""
LOPSIDED: Final = 1.2
"""Most by which one leg may exceed the other: what cuts a corner cuts both sides alike."""
FAINT: Final = 11.0
"""Codes of contrast below which a patch of few pixels is lost in the ringing of a JPEG."""
BESIDE, BELOW = 0.12, 0.04
"""Most of a row beside the patch, and of the corner below it, that may show its color."""
STILL: Final = 10.0
"""Codes by which a color that comes back may differ from a patch that is all one color."""
LIKE: Final = 0.3
"""Share of the contrast that a pixel of the patch may be off; ringing beside an edge is up to 0.2."""

ROUNDED: Final = 0.035
"""By how much a rounding must fit better than a straight cut."""

SHAPES: Final = {"square": 1.0, "triangle": 0.5, "round": 1 - pi / 4}
"""What a corner is cut by, and the share of its legs' rectangle that goes."""

CORNERS: Final[tuple[tuple[Side, Side], ...]] = (
    ("top", "left"),
    ("top", "right"),
    ("bottom", "left"),
    ("bottom", "right"),
)


@dataclass(slots=True)
class Nick:
    """A patch in a corner: px along each of its two sides, its color and the art's beside it."""

    corner: tuple[Side, Side]
    across: float
    """px along the top or bottom side."""
    down: float
    """px along the left or right side."""
    shape: str
    """square, triangle or round."""
    misfit: float
    """Mean difference of coverage (0..1) between the patch and its ideal shape."""
    page: tuple[float, ...]
    art: tuple[float, ...]
    contrast: float
    """Codes between page and art, by ``_apart``."""


def _corner(picture: Image.Image, corner: tuple[Side, Side]) -> Image.Image:
    width, height = picture.size
    left = 0 if corner[1] == "left" else max(0, width - REACH)
    top = 0 if corner[0] == "top" else max(0, height - REACH)
    part = normal(picture.crop((left, top, min(width, left + REACH), min(height, top + REACH))))
    if corner[1] == "right":
        part = part.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    if corner[0] == "bottom":
        part = part.transpose(Image.Transpose.FLIP_TOP_BOTTOM)
    return part


def _apart(one: Sequence[float], other: Sequence[float]) -> float:
    """Codes between two colors, mostly by luma (ITU-R BT.601): 4:2:0 smears chroma over a nick."""
    red, green, blue = (a - b for a, b in zip(one[:3], other[:3], strict=True))
    luma = abs(0.299 * red + 0.587 * green + 0.114 * blue)
    strongest = max(abs(red), abs(green), abs(blue))
    clear = abs(one[3] - other[3]) if len(one) == 4 else 0.0
    return max(luma, 0.5 * strongest, clear)


def _lengths(like: list[list[bool]]) -> list[int] | None:
    """Return how long each row of a patch is, from pixels that show the page color; None if it is none."""
    column = [row[0] for row in like]
    down = column.index(False) if False in column else len(like)
    lengths = [row.index(False) if False in row else len(row) for row in like[:down]]
    if not (SMALLEST <= down <= LARGEST and SMALLEST <= lengths[0] <= LARGEST):
        return None
    shortest = lengths[0]
    for length in lengths:
        if length > shortest + 1:
            return None
        shortest = min(shortest, length)
    return lengths if sum(lengths) >= FEWEST else None


def _rim(rows: list[list[bytes]], lengths: list[int], beyond: int) -> list[bytes]:
    """Return the pixels some px beyond the mixed one at the end of each of a patch's rows and columns."""
    columns = [sum(length > x for length in lengths) for x in range(lengths[0])]
    return [rows[y][length + beyond] for y, length in enumerate(lengths)] + [
        rows[length + beyond][x] for x, length in enumerate(columns)
    ]


def find_nick(picture: Image.Image, corner: tuple[Side, Side]) -> Nick | None:
    """Return the nick in a corner, or None."""
    part = _corner(picture, corner)
    width, height = part.size
    if min(width, height) < REACH:
        return None
    bands = len(part.getbands())
    data = part.tobytes()
    # The first look: the corner pixel against the middle of what lies around it.
    page: Sequence[float] = data[:bands]
    far = [
        data[(y * width + x) * bands : (y * width + x + 1) * bands]
        for x, y in ((REACH - 1, 0), (0, REACH - 1), (20, 0), (0, 20), (14, 14), (20, 8), (8, 20))
    ]
    if median(_apart(page, one) for one in far) < FAINT:
        return None
    rows = [
        [data[at : at + bands] for at in range(y * width * bands, (y + 1) * width * bands, bands)]
        for y in range(height)
    ]
    near = [rows[0][0], rows[0][1], rows[1][0]]
    page = [fmean(one[band] for one in near) for band in range(bands)]
    contrast = median(_apart(page, one) for one in far)
    if contrast < FAINT or max(_apart(page, one) for one in near) > LIKE * contrast:
        return None
    lengths = _lengths([[_apart(page, one) <= LIKE * contrast for one in row] for row in rows])
    if lengths is None:
        return None
    across, down = lengths[0], len(lengths)
    inside = [_apart(page, one) for row, at in zip(rows, lengths, strict=False) for one in row[:at]]
    # The page color may hardly come back, beside the patch or below it: as exactly as the patch shows it.
    exact = min(LIKE * contrast, max(STILL, 2 * max(inside)))
    again = [
        sum(_apart(page, one) <= exact for one in row[lengths[y] + 2 if y < down else 0 :])
        for y, row in enumerate(rows)
    ]
    if max(again[:down]) > BESIDE * width or sum(again[down + 1 :]) > BELOW * width * height:
        return None
    rim = _rim(rows, lengths, 1) + _rim(rows, lengths, 2)
    further = _rim(rows, lengths, 4) + _rim(rows, lengths, 5)
    away = [_apart(page, one) for one in rim]
    if sum(value >= 0.5 * contrast for value in away) < SHARP_RIM * len(away) or median(
        away
    ) < 0.7 * median(_apart(page, one) for one in further):
        return None
    contrast = median(away)
    art = [median(one[band] for one in rim) for band in range(bands)]

    def fraction(edge: Sequence[float], inner: Sequence[float]) -> float:
        whole = _apart(page, inner)
        return max(0.0, min(1.0, 1 - _apart(page, edge) / whole)) if whole else 0.0

    legs = (
        across + fraction(rows[0][across], rows[0][across + 1]),
        down + fraction(rows[down][0], rows[down + 1][0]),
    )
    shown = [
        [max(0.0, min(1.0, 1 - _apart(page, one) / contrast)) for one in row[: across + 1]]
        for row in rows[: down + 1]
    ]
    area = sum(map(sum, shown))
    fits = []
    for shape, per_leg in SHAPES.items():
        # The tip of a triangle or rounding covers its last pixels in part: area tells the legs.
        grow = 1.0 if shape == "square" else sqrt(area / (per_leg * legs[0] * legs[1]))
        long = legs[0] * grow, legs[1] * grow
        fits.append((_misfit(shape, shown, long), shape, long))
    # Few pixels hardly tell a cut from a rounding; a single corner is more often cut than rounded.
    misfit, shape, legs = min(fits, key=lambda fit: fit[0] + ROUNDED * (fit[1] == "round"))
    if max(legs) > LOPSIDED * min(legs) + 0.7:
        return None
    return Nick(corner, legs[0], legs[1], shape, misfit, tuple(page), tuple(art), contrast)


def _misfit(shape: str, shown: list[list[float]], legs: tuple[float, float]) -> float:
    """Return the mean difference of coverage between a patch and an ideal shape of given legs."""
    rim = 0.3 / min(legs)
    off = [
        abs(cover - _ideal(shape, (x + 0.5) / legs[0], (y + 0.5) / legs[1], rim))
        for y, row in enumerate(shown)
        for x, cover in enumerate(row)
    ]
    return fmean(off)


def _ideal(shape: str, x: float, y: float, rim: float) -> float:
    """Return whether a point (in legs from the corner) lies in the ideal patch; 0.5 on its rim."""
    if shape == "square":
        inside = 1 - max(x, y)
    elif shape == "triangle":
        inside = 1 - x - y
    else:
        inside = hypot(1 - x, 1 - y) - 1 if x < 1 and y < 1 else -1.0
    return 0.5 if abs(inside) < rim else float(inside > 0)
