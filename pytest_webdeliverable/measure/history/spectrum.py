"""Which periods a row of numbers holds, in plain Python: short transforms are fast enough."""

from __future__ import annotations

from cmath import exp, pi
from functools import cache
from math import cos
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Sequence

SMOOTH: Final = 4
"""Neighbors to each side in the moving mean that is taken off."""
MOST_DEVIATIONS: Final = 4.0
"""Values are cut at this many standard deviations, so that single edges of the art do not rule."""
NORMAL_MEDIAN: Final = 0.6745
"""Median of the magnitude of a normal deviate of standard deviation 1."""
BAND: Final = 32
"""Bins that share one median, by which they are divided."""
TINY: Final = 1e-9
"""Added to medians of a flat picture, which are zero, before they divide or limit others."""


@cache
def _roots(size: int) -> list[complex]:
    return [exp(-2j * pi * k / size) for k in range(size // 2)]


@cache
def _window(size: int) -> list[float]:
    """Hann window: no value at the ends, so that the cut itself makes no frequencies."""
    return [0.5 - 0.5 * cos(2 * pi * n / (size - 1)) for n in range(size)]


def transform(values: list[complex]) -> list[complex]:
    """Discrete Fourier transform of a power of two of values, by halving (Cooley and Tukey, 1965)."""
    size = len(values)
    if size == 1:
        return values
    even, odd = transform(values[::2]), transform(values[1::2])
    turned = [root * value for root, value in zip(_roots(size), odd, strict=True)]
    return [a + b for a, b in zip(even, turned, strict=True)] + [
        a - b for a, b in zip(even, turned, strict=True)
    ]


def flattened(profile: Sequence[float], size: int) -> list[float]:
    """Middle ``size`` values relative to their moving mean, cut at a few deviations, windowed."""
    start = (len(profile) - size) // 2
    cut = list(profile[start : start + size])
    padded = [cut[0]] * SMOOTH + cut + [cut[-1]] * SMOOTH
    width = 2 * SMOOTH + 1
    total = sum(padded[: width - 1])
    result = []
    for i, value in enumerate(cut):
        total += padded[i + width - 1]
        mean = total / width
        result.append((value - mean) / (mean + 1e-3))
        total -= padded[i]
    most = MOST_DEVIATIONS / NORMAL_MEDIAN * sorted(map(abs, result))[size // 2] + TINY
    return [
        max(-most, min(most, value)) * weight
        for value, weight in zip(result, _window(size), strict=True)
    ]


def powers(one: list[float], other: list[float]) -> tuple[list[float], list[float]]:
    """Power spectra of two rows of the same power-of-two length, by one transform of both."""
    size = len(one)
    both = transform([complex(a, b) for a, b in zip(one, other, strict=True)])
    first, second = [], []
    for k in range(size // 2 + 1):
        a, b = both[k], both[-k % size].conjugate()
        first.append(abs(a + b) ** 2 / 4)
        second.append(abs(a - b) ** 2 / 4)
    return first, second


def relative(spectrum: list[float]) -> list[float]:
    """Magnitude of each bin, of one band at least, as a multiple of the median of its band."""
    result: list[float] = []
    bands = len(spectrum) // BAND
    for band in range(bands):
        end = len(spectrum) if band == bands - 1 else (band + 1) * BAND
        part = spectrum[band * BAND : end]
        middle = sorted(part)[len(part) // 2] + TINY
        result += [(value / middle) ** 0.5 for value in part]
    return result
