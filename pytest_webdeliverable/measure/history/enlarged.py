"""Was the picture enlarged? Tell by periodic sharpness and by missing fine detail.

Interpolation makes every so-many-th column smoother than its neighbours, so that the mean second
difference of the columns repeats with the factor (A. C. Gallagher, Detection of Linear and Cubic
Interpolation in JPEG Compressed Images, CRV 2005). Exactly doubled pictures show no such period;
they lose nothing when they are halved and doubled again.
"""

from __future__ import annotations

from cmath import exp, pi
from functools import cache
from typing import Final, TypedDict

from PIL import Image, ImageChops, ImageStat

LENGTH: Final = 1024
"""Columns or rows in the spectrum; a power of two for the transform."""
SMOOTH: Final = 9
"""Width of the moving mean that is taken off, columns."""
GRID_BINS: Final = 3
"""Bins around multiples of 1/8 that the JPEG block grid fills, to each side."""
LOWEST: Final = 0.08
"""Cycles per pixel below which content, not interpolation, makes the period."""
PERIOD_THRESHOLD: Final = 14.0
DETAIL_THRESHOLD: Final = 0.25
WINDOW: Final = 640
"""Side of the window that is halved and doubled, px."""
LEAST_DETAIL: Final = 1.0
"""Root-mean-square fine detail below which nothing can be told, code values."""
MAGNITUDE: Final = [min(v, 256 - v) for v in range(256)]


class Enlarged(TypedDict):
    """Whether the picture was made from fewer pixels."""

    score: float
    threshold: float
    found: bool
    factor: float | None
    undecided: str | None


def undecided(reason: str) -> Enlarged:
    """Give the answer for a picture that cannot tell."""
    return {
        "score": 0.0,
        "threshold": 1.0,
        "found": False,
        "factor": None,
        "undecided": reason,
    }


def second_differences(gray: Image.Image) -> list[float]:
    """Mean magnitude, per column, of the second difference along the rows; code values."""
    width, height = gray.size
    middle = gray.crop((1, 0, width - 1, height))
    left = ImageChops.subtract_modulo(middle, gray.crop((0, 0, width - 2, height)))
    right = ImageChops.subtract_modulo(gray.crop((2, 0, width, height)), middle)
    bend = ImageChops.subtract_modulo(right, left).point(MAGNITUDE)
    means = bend.convert("F").resize((width - 2, 1), Image.Resampling.BOX)
    return [value for value in means.get_flattened_data() if isinstance(value, float)]


@cache
def _roots(size: int) -> list[complex]:
    return [exp(-2j * pi * k / size) for k in range(size // 2)]


def transform(values: list[complex]) -> list[complex]:
    """Discrete Fourier transform of a power of two of values, by halving."""
    size = len(values)
    if size == 1:
        return values
    even, odd = transform(values[::2]), transform(values[1::2])
    turned = [root * value for root, value in zip(_roots(size), odd, strict=True)]
    return [a + b for a, b in zip(even, turned, strict=True)] + [
        a - b for a, b in zip(even, turned, strict=True)
    ]


def strongest_period(profile: list[float]) -> tuple[float, float]:
    """Strength (multiple of the median) and frequency (cycles per px) of the strongest period."""
    size = 1 << (len(profile).bit_length() - 1)
    size = min(size, LENGTH)
    start = (len(profile) - size) // 2
    cut = profile[start : start + size]
    half = SMOOTH // 2
    flat = [
        value
        - sum(cut[max(0, i - half) : i + half + 1]) / len(cut[max(0, i - half) : i + half + 1])
        for i, value in enumerate(cut)
    ]
    spectrum = [abs(value) for value in transform([complex(value) for value in flat])]
    kept = {
        k: spectrum[k]
        for k in range(int(LOWEST * size), size // 2)
        if min(k * 8 % size, -k * 8 % size) > GRID_BINS * 8
    }
    if not kept:
        return 0.0, 0.0
    middle = sorted(kept.values())[len(kept) // 2] + 1e-9
    at = max(kept, key=lambda k: kept[k])
    return kept[at] / middle, at / size


def fine_detail(gray: Image.Image) -> tuple[float, float]:
    """Detail lost by halving and doubling (root mean square, code values), and its share."""
    width, height = gray.width // 2 * 2, gray.height // 2 * 2
    even = gray.crop((0, 0, width, height))
    halved = even.resize((width // 2, height // 2), Image.Resampling.BICUBIC)
    doubled = halved.resize((width, height), Image.Resampling.BICUBIC)
    lost = _rms(even, doubled)
    quartered = halved.resize((width // 4, height // 4), Image.Resampling.BICUBIC)
    back = quartered.resize(halved.size, Image.Resampling.BICUBIC)
    coarse = _rms(halved, back)
    return lost, lost / (coarse + 1e-6)


def _rms(one: Image.Image, other: Image.Image) -> float:
    return float(ImageStat.Stat(ImageChops.difference(one, other)).rms[0])


def enlarged(gray: Image.Image) -> Enlarged:
    """Look for periodic interpolation and for missing fine detail."""
    if min(gray.size) < 128:
        return undecided("the picture is too small to show interpolation")
    along, f1 = strongest_period(second_differences(gray))
    across, _ = strongest_period(second_differences(gray.transpose(Image.Transpose.TRANSPOSE)))
    x = max(0, (gray.width - WINDOW) // 2)
    y = max(0, (gray.height - WINDOW) // 2)
    window = gray.crop((x, y, min(gray.width, x + WINDOW), min(gray.height, y + WINDOW)))
    lost, _ = fine_detail(window)
    if lost < 1e-3:
        return undecided("the picture holds no fine detail")
    score = max(min(along, across) / PERIOD_THRESHOLD, 0.0)
    return {
        "score": round(score, 3),
        "threshold": 1.0,
        "found": score > 1.0,
        "factor": round(1 / (1 - f1), 2) if score > 1.0 else None,
        "undecided": None,
    }
