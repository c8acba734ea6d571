"""Was the picture enlarged? Interpolation leaves a rhythm of softer and sharper columns and rows.

An interpolated pixel is softer the farther it lies from the pixels it was made from. The distance
repeats with the factor, and so does the mean second difference of the columns (A. C. Gallagher,
Detection of Linear and Cubic Interpolation in JPEG Compressed Images, CRV 2005). Doubling about the
pixels' centres makes all distances equal, but then neighbours lie by turns between the same two and
across one of the old pixels, and the first difference alternates. Soft art, gradients and plain
areas have no such rhythm, so they do not alarm; a rhythm counts only if columns and rows share it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, TypedDict

from PIL import Image, ImageChops

from pytest_webdeliverable.measure.history.spectrum import flattened, powers, relative

if TYPE_CHECKING:
    from collections.abc import Sequence

LONGEST: Final = 1024
"""Most columns and rows in a spectrum."""
SHORTEST: Final = 128
"""Fewest; below that a picture is too small."""
WINDOW: Final = 1600
"""Side of the middle part that is looked at in larger pictures, px."""
BLOCK: Final = 8
"""Side of a JPEG block, px."""
STRIP: Final = 16
"""Rows averaged at once; up to 15 rows at the bottom are left out."""
LOWEST: Final = 0.05
"""Cycles per pixel below which content makes the rhythm: factors below 1.05 are not told."""
GRID_BINS: Final = 3
"""Bins beside each multiple of an eighth that a block grid fills."""
ALTERNATING_BINS: Final = 3
"""Bins at the end of the spectrum that hold an alternation, also of a factor not quite 2."""
THRESHOLD: Final = 1.0
RHYTHM_LIMIT: Final = 5.0
ALTERNATION_LIMIT: Final = 6.0
LEAST_DETAIL: Final = 0.25
"""Mean second difference, code values, below which there is nothing to see a rhythm in."""
MAGNITUDE: Final = [min(v, 256 - v) for v in range(256)]
"""Magnitude of a difference taken modulo 256."""


class Enlarged(TypedDict):
    """Whether the picture was made from fewer pixels.

    ``score``: strength of the rhythm as a share of the limit. ``factor``: the likeliest enlargement;
    a rhythm fits several (3 looks like 1.5), the smallest up to 2 is given.
    """

    score: float
    threshold: float
    found: bool
    factor: float | None
    undecided: str | None


class Rhythm(TypedDict):
    """What the spectra show: strengths are multiples of the median, the weaker of columns and rows.

    ``free`` and ``frequency`` (cycles per px): strongest rhythm away from the block grid's; ``grid``:
    at 1/8, 2/8 and 3/8; ``alternation``: every second pixel.
    """

    free: float
    frequency: float
    grid: list[float]
    alternation: float


def undecided(reason: str) -> Enlarged:
    """Give the answer for a picture that cannot tell."""
    return {
        "score": 0.0,
        "threshold": THRESHOLD,
        "found": False,
        "factor": None,
        "undecided": reason,
    }


def _means(differences: Image.Image) -> list[float]:
    sizes = differences.point(MAGNITUDE).convert("F")
    whole = sizes.crop((0, 0, sizes.width, sizes.height // STRIP * STRIP))
    row = whole.reduce((1, STRIP)).resize((sizes.width, 1), Image.Resampling.BOX)
    return [value for value in row.get_flattened_data() if isinstance(value, float)]


def profiles(gray: Image.Image) -> tuple[list[float], list[float]]:
    """Mean magnitude, per column, of the first and the second difference along rows; code values."""
    width, height = gray.size
    step = ImageChops.subtract_modulo(
        gray.crop((1, 0, width, height)), gray.crop((0, 0, width - 1, height))
    )
    bend = ImageChops.subtract_modulo(
        step.crop((1, 0, width - 1, height)), step.crop((0, 0, width - 2, height))
    )
    return _means(step), _means(bend)


def bridged(profile: Sequence[float], boundary: Sequence[int]) -> list[float]:
    """Replace the columns at the edges of JPEG blocks by the mean of those beside them."""
    result = list(profile)
    low, high = boundary[0], boundary[-1]
    for start in range(low, len(result), BLOCK):
        end = start + high - low
        before = result[start - 1] if start else result[min(end + 1, len(result) - 1)]
        after = result[end + 1] if end + 1 < len(result) else before
        for i in range(start, min(end + 1, len(result))):
            share = (i - start + 1) / (end - start + 2)
            result[i] = before + (after - before) * share
    return result


def rhythm(gray: Image.Image, *, blocks: bool) -> Rhythm | None:
    """Measure the rhythm of columns and rows; None where there is too little detail.

    ``blocks`` says that the picture's own JPEG grid starts at its corner.
    """
    first, second = [], []
    for picture in (gray, gray.transpose(Image.Transpose.TRANSPOSE)):
        steps, bends = profiles(picture)
        if sum(bends) < LEAST_DETAIL * len(bends):
            return None
        first.append(bridged(steps, (7,)) if blocks else steps)
        second.append(bridged(bends, (6, 7)) if blocks else bends)
    size = min(LONGEST, 1 << (min(map(len, second)).bit_length() - 1))
    along, down = (
        relative(power) for power in powers(*(flattened(profile, size) for profile in second))
    )
    shared = [min(value, max(down[max(0, k - 1) : k + 2])) for k, value in enumerate(along)]
    free, at = 0.0, 0
    for k in range(int(LOWEST * size), len(shared)):
        if min(k * BLOCK % size, -k * BLOCK % size) > GRID_BINS * BLOCK and shared[k] > free:
            free, at = shared[k], k
    reach = range(-GRID_BINS, GRID_BINS + 1)
    grid = [max(shared[size * k // BLOCK + i] for i in reach) for k in (1, 2, 3)]
    alternation = min(
        _alternation(power) for power in powers(*(flattened(profile, size) for profile in first))
    )
    return {"free": free, "frequency": at / size, "grid": grid, "alternation": alternation}


def _alternation(power: list[float]) -> float:
    """Strength of the last bins, as a multiple of the median of those before them."""
    before = sorted(power[len(power) // 2 : -8])
    return float((max(power[-ALTERNATING_BINS:]) / (before[len(before) // 2] + 1e-9)) ** 0.5)


def enlarged(gray: Image.Image, *, blocks: bool) -> Enlarged:
    """Look for the rhythm of interpolation in a gray picture."""
    if min(gray.size) < SHORTEST + 2:
        return undecided("the picture is too small to show a rhythm of interpolation")
    x, y = max(0, (gray.width - WINDOW) // 2), max(0, (gray.height - WINDOW) // 2)
    x, y = x // BLOCK * BLOCK, y // BLOCK * BLOCK
    middle = gray.crop((x, y, min(gray.width, x + WINDOW), min(gray.height, y + WINDOW)))
    found = rhythm(middle, blocks=blocks)
    if found is None:
        return undecided("the picture has too little fine detail")
    return _judged(found)


def _judged(found: Rhythm) -> Enlarged:
    free = found["free"] / RHYTHM_LIMIT
    twice = found["alternation"] / ALTERNATION_LIMIT
    score = max(free, twice)
    factor = None
    if score > THRESHOLD:
        factor = 2.0 if twice > free else round(1 / (1 - found["frequency"]), 2)
    return {
        "score": round(score, 3),
        "threshold": THRESHOLD,
        "found": score > THRESHOLD,
        "factor": factor,
        "undecided": None,
    }
