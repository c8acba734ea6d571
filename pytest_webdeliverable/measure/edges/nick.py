"""Corner nicks: a few pixels of page color where two sides meet.

A nick is one still patch in the corner, cut off sharply, its rows no longer the further in they lie, and
a color that the picture around it does not have. Foliage and grain have their dark and light spots
elsewhere too, so that their corners do not count.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import takewhile
from math import hypot, pi, sqrt
from statistics import fmean, median
from typing import TYPE_CHECKING, Final

from PIL import Image

from pytest_webdeliverable.measure.edges.strips import normal

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from pytest_webdeliverable.measure.edges.types import Side

REACH: Final = 28
"""px of the corner looked at, each way."""
LARGEST: Final = 16
"""px; a larger patch is a shape of the art."""
SMALLEST: Final = 2
"""px of either side of a patch."""
AROUND: Final = ((REACH - 1, 0), (0, REACH - 1), (20, 0), (0, 20), (14, 14), (20, 8), (8, 20))
"""Pixels (x, y) of a corner that tell what lies around a patch, most of them beyond the largest."""
RIMS: Final = (1, 2), (4, 5)
"""px beyond the mixed one at a patch's end: right beside it, and further in."""
LASTING_RIM: Final = 0.7
"""Least share of the contrast further in that is there right beside a patch."""
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


@dataclass(frozen=True, slots=True)
class _Patch:
    """A corner's pixels, those in it that show the page color, and how far that is from what lies around."""

    rows: list[list[bytes]]
    lengths: list[int]
    """px of each row of the patch."""
    page: tuple[float, ...]
    contrast: float


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
    """Return the REACH px each way of a corner, turned so that the corner is on the top left."""
    left = 0 if corner[1] == "left" else picture.width - REACH
    top = 0 if corner[0] == "top" else picture.height - REACH
    part = normal(picture.crop((left, top, left + REACH, top + REACH)))
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


def _lengths(rows: list[list[bytes]], like: Callable[[bytes], bool]) -> list[int] | None:
    """Return how long each row of a patch is, from what shows the page color; None if it is none."""
    down = sum(1 for _ in takewhile(like, (row[0] for row in rows)))
    lengths = [sum(1 for _ in takewhile(like, row)) for row in rows[:down]]
    if not (SMALLEST <= down <= LARGEST and SMALLEST <= lengths[0] <= LARGEST):
        return None
    shortest = lengths[0]
    for length in lengths:
        if length > shortest + 1:
            return None
        shortest = min(shortest, length)
    return lengths


def _rim(rows: list[list[bytes]], lengths: list[int], beyond: int) -> list[bytes]:
    """Return the pixels some px beyond the mixed one at the end of each of a patch's rows and columns."""
    columns = [sum(length > x for length in lengths) for x in range(lengths[0])]
    return [rows[y][length + beyond] for y, length in enumerate(lengths)] + [
        rows[length + beyond][x] for x, length in enumerate(columns)
    ]


def find_nick(picture: Image.Image, corner: tuple[Side, Side]) -> Nick | None:
    """Return the nick in a corner, or None."""
    if min(picture.size) < REACH:
        return None
    patch = _patch(_corner(picture, corner))
    if patch is None or _comes_back(patch):
        return None
    beside = _beside(patch)
    if beside is None:
        return None
    art, contrast = beside
    shape, legs, misfit = _shape(patch, contrast)
    if max(legs) > LOPSIDED * min(legs) + 0.7:
        return None
    return Nick(corner, legs[0], legs[1], shape, misfit, patch.page, art, contrast)


def _patch(part: Image.Image) -> _Patch | None:
    """Return what is of one color in the top left corner of a part, cut off from what lies around it."""
    bands = len(part.getbands())
    data = part.tobytes()
    far = [data[at : at + bands] for at in ((y * REACH + x) * bands for x, y in AROUND)]
    # The first look, which ends most: the corner's pixel alone against what lies around it.
    if median(_apart(data[:bands], one) for one in far) < FAINT:
        return None
    pixels = [data[at : at + bands] for at in range(0, len(data), bands)]
    rows = [pixels[at : at + REACH] for at in range(0, len(pixels), REACH)]
    page = tuple(map(fmean, zip(rows[0][0], rows[0][1], rows[1][0], strict=True)))
    contrast = median(_apart(page, one) for one in far)
    if contrast < FAINT:
        return None
    lengths = _lengths(rows, lambda one: _apart(page, one) <= LIKE * contrast)
    return None if lengths is None else _Patch(rows, lengths, page, contrast)


def _comes_back(patch: _Patch) -> bool:
    """Return whether the page color comes back, beside the patch or below it."""
    page, down = patch.page, len(patch.lengths)
    inside = [
        _apart(page, one)
        for row, length in zip(patch.rows, patch.lengths, strict=False)
        for one in row[:length]
    ]
    # As exactly as the patch shows it.
    exact = min(LIKE * patch.contrast, max(STILL, 2 * max(inside)))
    again = [
        sum(_apart(page, one) <= exact for one in row[patch.lengths[y] + 2 if y < down else 0 :])
        for y, row in enumerate(patch.rows)
    ]
    # The row right below is mixed.
    below = sum(again[down + 1 :])
    return max(again[:down]) > BESIDE * REACH or below > BELOW * REACH * REACH


def _beside(patch: _Patch) -> tuple[tuple[float, ...], float] | None:
    """Return the art's color right beside a patch and its contrast; None if it is not cut off sharply."""
    rim, further = (
        [one for at in beyond for one in _rim(patch.rows, patch.lengths, at)] for beyond in RIMS
    )
    away = [_apart(patch.page, one) for one in rim]
    contrast = median(away)
    if sum(value >= 0.5 * patch.contrast for value in away) < SHARP_RIM * len(away):
        return None
    if contrast < LASTING_RIM * median(_apart(patch.page, one) for one in further):
        return None
    return tuple(map(median, zip(*rim, strict=True))), contrast


def _shape(patch: _Patch, contrast: float) -> tuple[str, tuple[float, float], float]:
    """Return what a patch is cut by, px along its two sides, and its misfit from that."""
    rows, page = patch.rows, patch.page
    across, down = patch.lengths[0], len(patch.lengths)

    def fraction(edge: bytes, inner: bytes) -> float:
        whole = _apart(page, inner)
        return max(0.0, 1 - _apart(page, edge) / whole) if whole else 0.0

    legs = (
        across + fraction(rows[0][across], rows[0][across + 1]),
        down + fraction(rows[down][0], rows[down + 1][0]),
    )
    shown = [
        [max(0.0, 1 - _apart(page, one) / contrast) for one in row[: across + 1]]
        for row in rows[: down + 1]
    ]
    area = sum(map(sum, shown))
    fits = []
    for shape, per_leg in SHAPES.items():
        # The tip of a triangle or rounding covers its last pixels in part: area tells the legs.
        grow = 1.0 if shape == "square" else sqrt(area / (per_leg * legs[0] * legs[1]))
        long = legs[0] * grow, legs[1] * grow
        fits.append((shape, long, _misfit(shape, shown, long)))
    # Few pixels hardly tell a cut from a rounding; a single corner is more often cut than rounded.
    return min(fits, key=lambda fit: fit[2] + ROUNDED * (fit[0] == "round"))


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
