"""Whether two pictures show the same: the whole, or a part of the other."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, TypedDict

from pytest_webdeliverable.likeness.differ import (
    Difference,
    differ,
    displacement,
    mean_difference,
)
from pytest_webdeliverable.likeness.resample import WHOLE, Box, centered, resample
from pytest_webdeliverable.likeness.signature import Plane, Signature, chroma_grid, planes

if TYPE_CHECKING:
    from collections.abc import Sequence

LUMA_OF_ALLOWED: Final = 1.6
"""Difference of 2 x 2 cells, beyond what is allowed for compression and scaling and as a multiple of
that, at which two pictures stop being the same; measured by benchmarks/likeness.py."""
CHROMA_OF_ALLOWED: Final = 0.55
"""The same for color, which scaling and sharpening change far less."""
COLOR_ALLOWED: Final = 8.0
"""Mean difference of a channel at which two pictures stop being the same, code values."""
WHOLE_TOLERANCE: Final = 0.02
"""Difference of the shapes (width / height) up to which a copy is taken as the whole picture."""
GRAY_SWING: Final = 3.0
"""Largest distance from neutral of a gray picture's chroma, code values."""
COARSER: Final = 0.5
"""Share of the cells along a side that is left where cells do not lie alike; measured."""
COARSE: Final = 12
"""Cells each way in which the likeliest part is looked for."""
PLACES: Final = 33
"""Places of the part that are tried along the longer direction."""
LEAST_CELLS: Final = 6
"""Cells along each side of the compared part below which it says too little."""
HOPELESS: Final = 100.0
"""Difference that no displacement within a cell makes, code values."""
MOST_SHIFT: Final = 1.0
"""Displacement, in cells, that is allowed for: cutting to whole pixels moves a copy by less."""


class Likeness(TypedDict("Names", {"color shift": list[float]})):
    """How alike a copy and its piece are.

    ``score`` is 1 for no difference beyond what scaling and compression make and 0.5 at the limit.
    ``crop`` is the part of the piece that was compared (left, top, right, bottom as fractions),
    ``shift`` the copy's displacement as fractions of width and height, ``color shift`` the mean
    difference of Y, Cb, Cr (copy less piece, code values), ``gray`` whether the copy is gray and the
    piece is not, ``at`` the place of the strongest difference as fractions of the copy.
    """

    same: bool
    score: float
    crop: list[float]
    shift: list[float]
    gray: bool
    at: list[float]
    undecided: str | None


def same_picture(copy: Signature, piece: Signature, crop: Box | None = None) -> Likeness:
    """Compare a copy with its piece: the whole, a part around the center, or the part ``crop``.

    Where the shapes differ, no part is declared and it is not the middle, the likeliest part along
    the longer direction is tried as well. Raises ValueError for a damaged signature.
    """
    if crop is not None:
        return compare_part(copy, piece, crop)
    here, there = (size[0] / size[1] for size in (copy["size"], piece["size"]))
    if abs(here / there - 1) <= WHOLE_TOLERANCE or _within_a_pixel(copy["size"], piece["size"]):
        return compare_part(copy, piece, WHOLE)
    middle = compare_part(copy, piece, centered(there, here))
    if middle["same"]:
        return middle
    elsewhere = compare_part(copy, piece, _likeliest(copy, piece, centered(there, here)))
    return max(middle, elsewhere, key=lambda likeness: likeness["score"])


def _likeliest(copy: Signature, piece: Signature, middle: Box) -> Box:
    """Part of the shape of ``middle``, anywhere along the longer direction, nearest to the copy."""
    ours, theirs = planes(copy)[0], planes(piece)[0]
    across, down = min(COARSE, ours.width), min(COARSE, ours.height)
    mine = resample(ours, WHOLE, across, down)
    left, top, right, bottom = middle
    boxes = []
    for step in range(PLACES):
        x, y = 2 * left * step / (PLACES - 1), 2 * top * step / (PLACES - 1)
        box = (x, y, x + right - left, y + bottom - top)
        other = resample(theirs, box, across, down)
        boxes.append((_distance(mine, other), box))
    return min(boxes)[1]


def _distance(one: Plane, other: Plane) -> float:
    level = mean_difference(one, other)
    return sum(
        abs(a - b - level)
        for mine, row in zip(one.rows, other.rows, strict=True)
        for a, b in zip(mine, row, strict=True)
    )


def _within_a_pixel(copy: Sequence[int], piece: Sequence[int]) -> bool:
    """Whether the copy is the whole piece scaled, up to a pixel of rounding a side."""
    scale = min(copy[0] / piece[0], copy[1] / piece[1])
    return abs(piece[0] * scale - copy[0]) <= 1 and abs(piece[1] * scale - copy[1]) <= 1


def compare_part(copy: Signature, piece: Signature, box: Box) -> Likeness:
    """Compare a copy with the part ``box`` of its piece."""
    across, down = common_grid(copy["grid"], piece["grid"], box)
    ours = planes(copy)
    theirs = planes(piece)
    luma = resample(ours[0], WHOLE, across, down), resample(theirs[0], box, across, down)
    wide, high = chroma_grid((across, down))
    colors = [
        (resample(one, WHOLE, wide, high), resample(other, box, wide, high))
        for one, other in zip(ours[1:], theirs[1:], strict=True)
    ]
    gray = _is_gray(ours) and not _is_gray(theirs)
    levels = [mean_difference(*pair) for pair in (luma, *colors)]
    found = [_settled(*luma, levels[0])]
    if not gray:
        found += [
            differ(*pair, level=level) for pair, level in zip(colors, levels[1:], strict=True)
        ]
    limits = (LUMA_OF_ALLOWED, CHROMA_OF_ALLOWED, CHROMA_OF_ALLOWED)
    excesses = [
        (difference.worst / difference.allowed / limit, difference.at)
        for difference, limit in zip(found, limits, strict=False)
    ]
    excess, at = max(excesses)
    judged = levels[:1] if gray else levels
    excess = max(excess, max(map(abs, judged)) / COLOR_ALLOWED)
    small = min(across, down) < LEAST_CELLS
    return {
        "same": excess < 1.0 and not small,
        "score": round(1 / (1 + excess), 4),
        "crop": [round(value, 4) for value in box],
        "shift": [round(found[0].shift[0] / across, 4), round(found[0].shift[1] / down, 4)],
        "color shift": [round(level, 2) for level in levels],
        "gray": gray,
        "at": [round(value, 3) for value in at],
        "undecided": "the part is too small to compare" if small else None,
    }


def _settled(one: Plane, other: Plane, level: float) -> Difference:
    """Compare as they lie, and if that differs, allow for a small displacement."""
    plain = differ(one, other, level=level)
    if plain.worst == 0.0 or plain.worst > HOPELESS:
        return plain
    shift = displacement(one, other, level)
    if max(map(abs, shift)) > MOST_SHIFT:
        return plain
    moved = differ(one, other, level=level, shift=shift)
    return min(plain, moved, key=lambda difference: difference.worst)


def common_grid(copy: Sequence[int], piece: Sequence[int], box: Box) -> tuple[int, int]:
    """Cells that a copy and the part ``box`` of a piece are both averaged into.

    Cells that lie alike are compared as they are; others are cut across, which blurs them, so that
    both are brought to COARSER of the cells.
    """
    if box == WHOLE and list(copy) == list(piece):
        return copy[0], copy[1]
    across = min(copy[0], piece[0] * (box[2] - box[0])) * COARSER
    down = min(copy[1], piece[1] * (box[3] - box[1])) * COARSER
    return max(1, round(across)), max(1, round(down))


def _is_gray(colors: tuple[Plane, Plane, Plane]) -> bool:
    return all(
        max(map(max, plane.rows)) - 128 <= GRAY_SWING
        and 128 - min(map(min, plane.rows)) <= GRAY_SWING
        for plane in colors[1:]
    )
