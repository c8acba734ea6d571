"""The rhythm inside JPEG blocks, and how much of it the compression itself makes.

A rhythm of 2, 4 or 8/3 pixels (doubling, 4/3, 8/5) falls in step with the 8 x 8 blocks, where
compression makes a rhythm of its own. Only the columns inside blocks are looked at, and the same
picture, scaled a little to put every other rhythm out of step and saved once with the same quality,
shows what compression alone makes of it; the difference is the enlargement's.
"""

from __future__ import annotations

from functools import cache
from math import cos, hypot, pi, sin, sqrt
from typing import TYPE_CHECKING, Final

from PIL import Image

from pytest_webdeliverable.measure.history.resaved import saved

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

BLOCK: Final = 8
"""Side of a JPEG block, px (ITU-T T.81)."""
INSIDE_FIRST: Final = 7
"""First differences of a block's row that do not cross its edge."""
INSIDE_SECOND: Final = 6
"""Second differences that do not."""
OUT_OF_STEP: Final = 0.97
"""Scale that puts rhythms out of step: they drift by a block every 33 columns."""
LEAST_SHARE: Final = 0.033
"""Rhythm, as a share of the mean difference, from which it counts; see benchmarks/history.py."""
LEAST_ERRORS: Final = 1.5
"""The same as a multiple of its standard error."""
ERROR_FLOOR: Final = 0.006
"""Least standard error, so that large pictures are not judged on trifles."""

Profiles = tuple[list[float], list[float]]
"""Mean first and second differences per column."""


def block_means(profile: Sequence[float], inside: int) -> tuple[list[float], float]:
    """Mean of each column inside blocks, relative to its block, and the mean standard error.

    The profile holds one block at least.
    """
    rows = []
    for start in range(0, len(profile) - BLOCK + 1, BLOCK):
        part = profile[start : start + inside]
        mean = sum(part) / inside + 1e-3
        rows.append([value / mean for value in part])
    count = len(rows)
    columns = list(zip(*rows, strict=True))
    means = [sum(column) / count for column in columns]
    variance = sum(
        sum((value - mean) ** 2 for value in column) / count
        for column, mean in zip(columns, means, strict=True)
    ) / len(columns)
    return means, sqrt(variance / count)


@cache
def _waves(count: int, frequency: float) -> list[list[float]]:
    """Orthonormal waves of one frequency without a mean, on ``count`` columns."""
    shapes: list[Callable[[float], float]] = [cos] if frequency == 0.5 else [cos, sin]
    waves: list[list[float]] = []
    for shape in shapes:
        wave = [shape(2 * pi * frequency * i) for i in range(count)]
        mean = sum(wave) / count
        wave = [value - mean for value in wave]
        for other in waves:
            part = sum(a * b for a, b in zip(wave, other, strict=True))
            wave = [a - part * b for a, b in zip(wave, other, strict=True)]
        length = sqrt(sum(value * value for value in wave))
        waves.append([value / length for value in wave])
    return waves


def _amplitude(values: Sequence[float], frequency: float) -> float:
    parts = [
        sum(a * b for a, b in zip(values, wave, strict=True))
        for wave in _waves(len(values), frequency)
    ]
    return sqrt(sum(part * part for part in parts) / len(values))


def _excess(picture: Profiles, alone: Profiles | None, frequency: float) -> float:
    """Rhythm beyond compression's as a share of the limits; 1 reaches both."""
    which, inside = (0, INSIDE_FIRST) if frequency == 0.5 else (1, INSIDE_SECOND)
    means, error = block_means(picture[which], inside)
    if alone is not None:
        others, other_error = block_means(alone[which], inside)
        means = [a - b for a, b in zip(means, others, strict=True)]
        error = hypot(error, other_error)
    size = _amplitude(means, frequency)
    return min(size / LEAST_SHARE, size / hypot(error, ERROR_FLOOR) / LEAST_ERRORS)


def in_step(
    gray: Image.Image,
    shown: list[Profiles],
    quality: int,
    profiles: Callable[[Image.Image], list[Profiles]],
    frequencies: Sequence[float],
) -> tuple[float, float]:
    """Strongest rhythm in step with the blocks, as a share of its limit, and its frequency.

    ``shown`` are the picture's columns and rows as ``profiles`` measures them. The comparison is
    made only if the picture shows a rhythm at all.
    """
    suspects = [f for f in frequencies if min(_excess(axis, None, f) for axis in shown) > 1.0]
    if not suspects:
        return 0.0, 0.0
    size = round(gray.width * OUT_OF_STEP), round(gray.height * OUT_OF_STEP)
    alone = profiles(saved(gray.resize(size, Image.Resampling.BICUBIC), quality))
    return max(
        (min(_excess(a, b, f) for a, b in zip(shown, alone, strict=True)), f) for f in suspects
    )
