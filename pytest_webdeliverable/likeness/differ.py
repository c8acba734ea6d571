"""How far two small pictures of the same shape differ, cell by cell.

Scaling, sharpening and compression change a cell a little, and more where its surroundings are
contrasty; another title, motif or color changes cells that lie together by much more. So each cell
may differ by a fixed amount and a share of the contrast around it; only what goes beyond counts, and
most where such cells lie together.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain, pairwise
from operator import sub
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from pytest_webdeliverable.likeness.signature import Plane

MOST_ALLOWED: Final = 6.0
"""Most a cell may differ in plain areas, code values: compression at quality 50 of a busy picture."""
LEAST_ALLOWED: Final = 2.0
"""What a cell may always differ, code values: rounding, and compression of plain areas."""
EVERY_ROW: Final = 2
"""Rows from one to the next that a displacement is measured on: half of them are enough."""
ALLOWED_OF_USUAL: Final = 2.0
"""Between the two, the allowance is this many times what nine tenths of the cells stay below."""
USUAL: Final = 0.9
"""Share of the cells whose difference counts as usual for a pair of pictures."""
ALLOWED_SHARE: Final = 0.3
"""Share of the contrast of the 3 x 3 cells around that scaling and sharpening may change; measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """``worst``: strongest 2 x 2 cells beyond what is allowed, root mean square, code values.

    ``at`` is their place as fractions of width and height; ``level`` the mean difference, signed;
    ``shift`` the displacement allowed for, in cells; ``allowed`` what a cell could differ.
    """

    worst: float
    allowed: float
    at: tuple[float, float]
    level: float
    shift: tuple[float, float]


def mean_difference(one: Plane, other: Plane) -> float:
    """Mean of ``one - other``, code values."""
    return sum(map(sum, one.rows)) / (one.width * one.height) - sum(map(sum, other.rows)) / (
        other.width * other.height
    )


def displacement(one: Plane, other: Plane, level: float) -> tuple[float, float]:
    """Displacement of ``one`` against ``other`` in cells, by least squares on the slopes.

    Good for displacements up to about a cell; B. Lucas, T. Kanade, An Iterative Image Registration
    Technique, IJCAI 1981.
    """
    xx = xy = yy = xd = yd = 0.0
    rows = other.rows
    for y in range(1, other.height - 1, EVERY_ROW):
        above, row, below, mine = rows[y - 1], rows[y], rows[y + 1], one.rows[y]
        for x in range(1, other.width - 1):
            gx = (row[x + 1] - row[x - 1]) / 2
            gy = (below[x] - above[x]) / 2
            if gx or gy:
                d = mine[x] - row[x] - level
                xx += gx * gx
                xy += gx * gy
                yy += gy * gy
                xd += gx * d
                yd += gy * d
    scale = xx * yy - xy * xy
    if scale <= 1e-6 * (xx + yy) ** 2 + 1e-6:
        return 0.0, 0.0
    # d = -shift . slope
    sx, sy = (yy * xd - xy * yd) / scale, (xx * yd - xy * xd) / scale
    return -sx, -sy


def allowance(one: Plane, other: Plane, level: float) -> float:
    """Say what a cell may differ in plain areas, from how much most cells of the pair differ."""
    differences = sorted(
        abs(d - level)
        for mine, row in zip(one.rows, other.rows, strict=True)
        for d in map(sub, mine, row)
    )
    usual = differences[int(USUAL * (len(differences) - 1))]
    return float(max(LEAST_ALLOWED, min(MOST_ALLOWED, ALLOWED_OF_USUAL * usual)))


def _slope(other: Plane, x: int, y: int) -> tuple[float, float]:
    rows = other.rows
    left, right = max(0, x - 1), min(other.width - 1, x + 1)
    up, low = max(0, y - 1), min(other.height - 1, y + 1)
    gx = (rows[y][right] - rows[y][left]) / max(1, right - left)
    gy = (rows[low][x] - rows[up][x]) / max(1, low - up)
    return gx, gy


def _contrast(other: Plane, x: int, y: int) -> float:
    left, right = max(0, x - 1), x + 2
    values = list(chain.from_iterable(row[left:right] for row in other.rows[max(0, y - 1) : y + 2]))
    return max(values) - min(values)


def differ(
    one: Plane, other: Plane, *, level: float, shift: tuple[float, float] = (0.0, 0.0)
) -> Difference:
    """Compare two planes of the same cells.

    ``level`` is a mean difference to leave out, ``shift`` a displacement of ``one`` to allow for.
    """
    allowed = allowance(one, other, level)
    beyond: dict[tuple[int, int], float] = {}
    moved = shift != (0.0, 0.0)
    for y, (mine, row) in enumerate(zip(one.rows, other.rows, strict=True)):
        for x, d in enumerate(map(sub, mine, row)):
            d -= level  # noqa: PLW2901
            if -allowed <= d <= allowed:
                continue
            if moved:
                gx, gy = _slope(other, x, y)
                d += shift[0] * gx + shift[1] * gy  # noqa: PLW2901
            rest = abs(d) - allowed - ALLOWED_SHARE * _contrast(other, x, y)
            if rest > 0:
                beyond[x, y] = rest * rest
    worst, at = 0.0, (0, 0)
    for x, y in beyond:
        # 2 x 2 cells without one in their upper row are no more than those a row below
        for left in (x, x - 1):
            together = sum(
                beyond.get((left + i, y + j), 0.0) for i, j in ((0, 0), (1, 0), (0, 1), (1, 1))
            )
            if together > worst:
                worst, at = together, (x, y)
    return Difference(
        worst=(worst / 4) ** 0.5,
        allowed=allowed,
        at=((at[0] + 0.5) / one.width, (at[1] + 0.5) / one.height),
        level=level,
        shift=shift,
    )


def detail(plane: Plane) -> float:
    """Mean difference of neighbors along rows, code values: 0 for a plain area."""
    total = sum(abs(b - a) for row in plane.rows for a, b in pairwise(row))
    return total / max(1, plane.height * (plane.width - 1))
