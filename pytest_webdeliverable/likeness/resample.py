"""Parts of small pictures at another size: area averages, so that scale does not matter."""

from __future__ import annotations

from functools import lru_cache
from operator import mul
from typing import TYPE_CHECKING

from pytest_webdeliverable.likeness.signature import Plane

if TYPE_CHECKING:
    from collections.abc import Sequence

Box = tuple[float, float, float, float]
"""Left, top, right, bottom as fractions of a picture."""

WHOLE: Box = (0.0, 0.0, 1.0, 1.0)


@lru_cache(maxsize=256)
def _shares(cells: int, low: float, high: float, target: int) -> list[tuple[int, list[float]]]:
    """For each target cell the first source cell and the shares of it and its followers."""
    step = (high - low) * cells / target
    result = []
    for i in range(target):
        start, end = low * cells + i * step, low * cells + (i + 1) * step
        first = max(0, min(cells - 1, int(start + 1e-9)))
        last = max(first, min(cells - 1, int(end - 1e-9)))
        weights = [
            max(0.0, min(end, cell + 1) - max(start, cell)) for cell in range(first, last + 1)
        ]
        total = sum(weights) or 1.0
        result.append((first, [weight / total for weight in weights]))
    return result


def _along(row: Sequence[float], shares: list[tuple[int, list[float]]]) -> list[float]:
    return [
        row[first]
        if len(weights) == 1
        else sum(map(mul, row[first : first + len(weights)], weights))
        for first, weights in shares
    ]


def resample(plane: Plane, box: Box, across: int, down: int) -> Plane:
    """Average the part ``box`` of ``plane`` into ``across`` x ``down`` cells."""
    if box == WHOLE and (across, down) == (plane.width, plane.height):
        return plane
    left, top, right, bottom = box
    columns = _shares(plane.width, left, right, across)
    lines = _shares(plane.height, top, bottom, down)
    narrow = [_along(row, columns) for row in plane.rows]
    rows = []
    for first, weights in lines:
        part = narrow[first : first + len(weights)]
        if len(part) == 1:
            rows.append(part[0])
        else:
            rows.append([sum(map(mul, column, weights)) for column in zip(*part, strict=True)])
    return Plane(rows=rows)


def centered(shape: float, target: float) -> Box:
    """Largest part, around the center, of a picture of ``shape`` (width / height) with ``target``'s.

    Both are positive.
    """
    if shape > target:
        margin = (1 - target / shape) / 2
        return (margin, 0.0, 1 - margin, 1.0)
    margin = (1 - shape / target) / 2
    return (0.0, margin, 1.0, 1 - margin)
