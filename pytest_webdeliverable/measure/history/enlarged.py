"""Was the picture enlarged? Interpolation leaves a rhythm of softer and sharper columns and rows.

An interpolated pixel is softer the farther it lies from the pixels it was made from. The distance
repeats with the factor, and so does the mean second difference of the columns (A. C. Gallagher,
Detection of Linear and Cubic Interpolation in JPEG Compressed Images, CRV 2005). Doubling about the
pixels' centers makes all distances equal, but then neighbors lie by turns between the same two and
across one of the old pixels, and the first difference alternates. Soft art, gradients and plain
areas have no such rhythm, so they do not alarm; a rhythm counts only if columns and rows share it.
"""

from __future__ import annotations

from typing import Final, Literal, TypedDict

from PIL import Image, ImageChops

from pytest_webdeliverable.measure.history.phases import in_step
from pytest_webdeliverable.measure.history.spectrum import flattened, powers, relative

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
LOWEST: Final = 0.085
"""Cycles per pixel below which content makes the rhythm: factors below 1.09 are not told."""
GRID_BINS: Final = 3
"""Bins beside each multiple of an eighth that a block grid fills."""
ALTERNATING_BINS: Final = 3
"""Bins at the end of the spectrum that hold an alternation, also of a factor not quite 2."""
LEAST_SHARED: Final = 1.5
"""Strength a rhythm needs in columns and rows alike to count at all."""
THRESHOLD: Final = 1.0
"""The strongest rhythm as a share of its limit."""
FREE_LIMIT: Final = 5.5
"""Limits are multiples of the spectrum's median, set on photographs that benchmarks/history.py
keeps apart from those it reports on. This one is for rhythms out of step with JPEG blocks."""
ALTERNATION_LIMIT: Final = 4.5
"""For every second pixel, where no JPEG blocks disturb."""
QUARTER_LIMIT: Final = 5.0
"""For every fourth pixel (enlarged by 4/3 or 4), where no JPEG blocks disturb."""
EIGHTHS_LIMIT: Final = 12.0
"""For 3 in 8 pixels (enlarged by 8/5 or 8/3), where no JPEG blocks disturb; a JPEG reduced later
shows it too."""
ART_LIMIT: Final = 30.0
"""Strength of the art's own repetition, as a multiple of its spectrum's median, from which the
picture's past cannot be told: photographs stay below 22, halftones lie above 40."""
TILE_LIMIT: Final = 5.0
"""The same at the rhythm's own distance, in columns and rows alike: patterns of tiles, a weave."""
TILE_SHARE: Final = 0.2
"""... and as a share of the rhythm itself: coarse interpolation leaves a faint repetition too."""
NEAR_BINS: Final = 2
"""Bins to each side that count as the same distance."""
FINE_ART: Final = 0.17
"""Cycles per pixel from which the art's own repetition is looked for: every 6 px and finer."""
LEAST_DETAIL: Final = 0.25
"""Mean second difference, code values, below which there is nothing to see a rhythm in."""
IN_STEP: Final = (0.5, 0.25, 0.375)
"""Rhythms in step with JPEG blocks, cycles per pixel."""
MAGNITUDE: Final = [min(v, 256 - v) for v in range(256)]
"""Magnitude of a difference taken modulo 256."""


Blocks = Literal["own", "none", "other"]
"""JPEG blocks from the picture's corner; no blocks; blocks of another size or place."""


class Enlarged(TypedDict):
    """Whether the picture was made from fewer pixels.

    ``score``: strength of the rhythm as a share of the limit. ``factor``: the likeliest enlargement;
    a rhythm fits several (3 looks like 1.5), the smallest, up to 2, is given.
    """

    score: float
    threshold: float
    found: bool
    factor: float | None
    undecided: str | None


class Rhythm(TypedDict):
    """What the spectra show, as multiples of the median, in columns and rows together.

    ``free`` and ``frequency`` (cycles per px): strongest rhythm out of step with 8 x 8 blocks;
    ``grid``: at 1/8, 2/8 and 3/8; ``alternation``: every second pixel.
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


def _row_of_means(picture: Image.Image) -> list[float]:
    whole = picture.crop((0, 0, picture.width, picture.height // STRIP * STRIP)).convert("F")
    row = whole.reduce((1, STRIP)).resize((picture.width, 1), Image.Resampling.BOX)
    return [value for value in row.get_flattened_data() if isinstance(value, float)]


def column_profiles(gray: Image.Image) -> tuple[list[float], list[float]]:
    """Mean magnitude, per column, of the first and second difference along rows; code values."""
    width, height = gray.size
    step = ImageChops.subtract_modulo(
        gray.crop((1, 0, width, height)), gray.crop((0, 0, width - 1, height))
    )
    bend = ImageChops.subtract_modulo(
        step.crop((1, 0, width - 1, height)), step.crop((0, 0, width - 2, height))
    )
    return _row_of_means(step.point(MAGNITUDE)), _row_of_means(bend.point(MAGNITUDE))


def profiles(gray: Image.Image) -> list[tuple[list[float], list[float]]]:
    """Differences of the columns, and of the rows."""
    return [column_profiles(gray), column_profiles(gray.transpose(Image.Transpose.TRANSPOSE))]


def _spectra(along: list[float], down: list[float]) -> tuple[list[float], list[float]]:
    size = min(LONGEST, 1 << (min(len(along), len(down)).bit_length() - 1))
    return powers(flattened(along, size), flattened(down, size))


def _shared(along: list[float], down: list[float]) -> list[float]:
    """Strength of each bin in columns and rows together; a neighboring bin of the rows will do."""
    result = []
    for k, value in enumerate(along):
        other = max(down[max(0, k - 1) : k + 2])
        result.append((value * other) ** 0.5 if min(value, other) > LEAST_SHARED else 0.0)
    return result


def rhythm(axes: list[tuple[list[float], list[float]]]) -> Rhythm:
    """Measure the rhythm of columns and rows from their profiles."""
    (first_along, second_along), (first_down, second_down) = axes
    shared = _shared(*(relative(power) for power in _spectra(second_along, second_down)))
    size = 2 * (len(shared) - 1)
    free, at = 0.0, 0
    for k in range(int(LOWEST * size), len(shared)):
        if min(k * BLOCK % size, -k * BLOCK % size) > GRID_BINS * BLOCK and shared[k] > free:
            free, at = shared[k], k
    reach = range(-GRID_BINS, GRID_BINS + 1)
    return {
        "free": free,
        "frequency": at / size,
        "grid": [max(shared[size * k // BLOCK + i] for i in reach) for k in (1, 2, 3)],
        "alternation": min(map(_alternation, _spectra(first_along, first_down))),
    }


def _repeats_at(gray: Image.Image, frequency: float, score: float) -> bool:
    """Whether the lightness of columns and rows, not only its sharpness, repeats at ``frequency``."""
    strengths = []
    for spectrum in _lightness(gray):
        at = round(frequency * 2 * (len(spectrum) - 1))
        strengths.append(max(spectrum[max(0, at - NEAR_BINS) : at + NEAR_BINS + 1]))
    return min(strengths) > max(TILE_LIMIT, TILE_SHARE * score * FREE_LIMIT)


def _lightness(gray: Image.Image) -> list[list[float]]:
    rows = _row_of_means(gray), _row_of_means(gray.transpose(Image.Transpose.TRANSPOSE))
    return [relative(power) for power in _spectra(*rows)]


def art_repeats(gray: Image.Image) -> bool:
    """Whether the lightness itself repeats every few pixels: halftone dots, fine stripes, a weave.

    Such art mocks the traces that are looked for.
    """
    if min(gray.size) < SHORTEST:
        return False
    spectra = _lightness(gray)
    first = round(FINE_ART * 2 * len(spectra[0]))
    return max(max(spectrum[first:]) for spectrum in spectra) > ART_LIMIT


def _alternation(power: list[float]) -> float:
    """Strength of the last bins, as a multiple of the median of those before them."""
    before = sorted(power[len(power) // 2 : -8])
    return float((max(power[-ALTERNATING_BINS:]) / (before[len(before) // 2] + 1e-9)) ** 0.5)


def enlarged(gray: Image.Image, *, blocks: Blocks, quality: int | None) -> Enlarged:
    """Look for the rhythm of interpolation in a gray picture.

    Rhythms in step with the JPEG's ``"own"`` blocks need its ``quality``; where there are ``"other"``
    blocks, of another size or place, rhythms of 2, 4 and 8/3 pixels are left out.
    """
    if min(gray.size) < SHORTEST + 2:
        return undecided("the picture is too small to show a rhythm of interpolation")
    x, y = max(0, (gray.width - WINDOW) // 2), max(0, (gray.height - WINDOW) // 2)
    x, y = x // BLOCK * BLOCK, y // BLOCK * BLOCK
    middle = gray.crop((x, y, min(gray.width, x + WINDOW), min(gray.height, y + WINDOW)))
    axes = profiles(middle)
    if any(sum(bends) < LEAST_DETAIL * len(bends) for _, bends in axes):
        return undecided("the picture has too little fine detail")
    found = rhythm(axes)
    candidates = [(found["free"] / FREE_LIMIT, found["frequency"])]
    if blocks == "own" and quality is not None:
        candidates.append(in_step(middle, axes, quality, profiles, IN_STEP))
    elif blocks == "none":
        candidates += _without_blocks(found)
    score, frequency = max(candidates)
    if score > THRESHOLD and _repeats_at(middle, frequency, score):
        return undecided("the art itself repeats at that distance")
    return {
        "score": round(score, 3),
        "threshold": THRESHOLD,
        "found": score > THRESHOLD,
        "factor": round(1 / (1 - frequency), 2) if score > THRESHOLD else None,
        "undecided": None,
    }


def _without_blocks(found: Rhythm) -> list[tuple[float, float]]:
    """Rhythms in step with 8 x 8 blocks in a picture without them.

    A picture that was a JPEG once shows all of them, so each must stand out from the others.
    """
    eighth, quarter, eighths = found["grid"]
    return [
        (found["alternation"] / max(1.0, eighth / 2, eighths / 2) / ALTERNATION_LIMIT, 0.5),
        (quarter / max(1.0, eighth / 2, eighths / 2) / QUARTER_LIMIT, 0.25),
        (eighths / max(1.0, eighth) / EIGHTHS_LIMIT, 0.375),
    ]
