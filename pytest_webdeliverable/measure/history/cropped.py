"""Was the picture cut out of a JPEG? Then its old 8 x 8 block grid does not start at the corner.

A JPEG's first coefficient of each block, 8 times the block's mean, is a multiple of a step. The
multiples survive on the old grid, blurred a little by later compression, and show as a periodic
histogram for one shift of the grid and no other (T. Bianchi, A. Piva, Detection of Nonaligned
Double JPEG Compression Based on Integer Periodicity Maps, IEEE TIFS 7(2), 2012). The file's own
grid leaks into the shifts next to it, to both sides alike, so each shift is judged against its
mirror image.
"""

from __future__ import annotations

from functools import cache
from math import cos, pi
from typing import TYPE_CHECKING, Final, TypedDict

from PIL import Image, ImageChops

from pytest_webdeliverable.measure.history.mosaic import mosaic

if TYPE_CHECKING:
    from collections.abc import Sequence

BLOCK: Final = 8
"""Side of a JPEG block, px (ITU-T T.81)."""
LEVEL_SHIFT: Final = 1024.0
"""First coefficient of a mid-gray block: 8 x 128, the level shift of ITU-T T.81 A.3.1."""
PERIODS: Final = (2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 14, 16)
"""Steps of the first coefficient that are looked for. ITU-T T.81 table K.1 scaled to quality 95..50
gives 2..16; larger steps show at their halves."""
UNITS: Final = 4
"""Half sums per unit of the first coefficient: the coefficient is an eighth of the block's sum."""
FLAT: Final = 128
"""Folded value of a block of one flat tone; every other folded sum is below it (2 x 4 x 16)."""
GRAY: Final = 128
"""Code value that stands for a cosine of 0."""
SWING: Final = 127
"""Code values that stand for a cosine of 1."""
THRESHOLD: Final = 6.5
"""Standard deviations from which an old grid counts as found."""
FEWEST_BLOCKS: Final = 256
"""Fewer blocks of 8 x 8 cannot show a histogram."""


class Cropped(TypedDict):
    """Whether a block grid is found that does not start at the picture's corner.

    ``offset``: x, y of the first whole old block, px, 0..7 each. ``score``: strength of its period
    in standard deviations of what the other shifts show.
    """

    score: float
    threshold: float
    found: bool
    offset: list[int] | None
    undecided: str | None


def undecided(reason: str) -> Cropped:
    """Give the answer for a picture that cannot tell."""
    return {
        "score": 0.0,
        "threshold": THRESHOLD,
        "found": False,
        "offset": None,
        "undecided": reason,
    }


@cache
def _tables(period: int) -> tuple[list[int], list[int], list[int]]:
    """Look-up tables that turn a block sum, as low and high byte of its half, into a cosine.

    The halves are folded by four times the period (a step of the coefficient is four units of the
    half sum), the low byte and the high byte apart, and added; blocks of one flat tone, whose sums
    are multiples of 64, fold to a value of their own, which counts nothing.
    """
    turn = UNITS * period
    low = [FLAT if byte % 32 == 0 else byte % turn for byte in range(256)]
    high = [byte * 256 % turn for byte in range(256)]
    wave = [
        GRAY
        if total >= FLAT
        else round(GRAY + SWING * cos(2 * pi * (total / UNITS - LEVEL_SHIFT) / period))
        for total in range(256)
    ]
    return low, high, wave


def block_sums(sheet: Image.Image) -> tuple[Image.Image, Image.Image]:
    """Half sums of every 8 x 8 block for all 64 shifts of the grid, as low and high bytes.

    Each picture returned is 8 x 8 fields, one per shift, of one value per block.
    """
    real = sheet.convert("F")
    across, down = sheet.width // BLOCK - 1, sheet.height // BLOCK - 1
    fields = Image.new("F", (across * BLOCK, down * BLOCK))
    for x in range(BLOCK):
        rows = real.crop((x, 0, x + across * BLOCK, sheet.height)).reduce((BLOCK, 1))
        for y in range(BLOCK):
            field = rows.crop((0, y, across, y + down * BLOCK)).reduce((1, BLOCK))
            fields.paste(field, (x * across, y * down))
    whole = fields.point(lambda v: v * 32 + 0.25).convert("I").tobytes()
    low, high, *_ = Image.frombytes("RGBA", fields.size, whole).split()
    return low, high


def periodicity(sums: tuple[Image.Image, Image.Image], period: int) -> list[float]:
    """Mean cosine, -1..1, of the 64 shifts (index y * 8 + x) at one period."""
    low, high, wave = _tables(period)
    folded = ImageChops.add(sums[0].point(low), sums[1].point(high))
    field = (folded.width // BLOCK, folded.height // BLOCK)
    means = folded.point(wave).convert("F").reduce(field).get_flattened_data()
    return [(value - GRAY) / SWING for value in means if isinstance(value, float)]


def own_period(sums: tuple[Image.Image, Image.Image], period: int) -> float:
    """Magnitude of the mean cosine of the grid at the corner, plain blocks counted as well."""
    box = (0, 0, sums[0].width // BLOCK, sums[0].height // BLOCK)
    turn = UNITS * period
    counts = ImageChops.add(
        sums[0].crop(box).point([byte % turn for byte in range(256)]),
        sums[1].crop(box).point(_tables(period)[1]),
    ).histogram()
    total = sum(
        count * cos(2 * pi * (value / UNITS - LEVEL_SHIFT) / period)
        for value, count in enumerate(counts)
        if count
    )
    return abs(total) / sum(counts)


def cropped(gray: Image.Image, side: int, corners: Sequence[tuple[int, int]]) -> Cropped:
    """Look for a block grid that starts elsewhere than at the corner."""
    sheet = mosaic(gray, side, corners)
    if sheet.width * sheet.height < FEWEST_BLOCKS * BLOCK * BLOCK:
        return undecided("the picture is too small to show a block grid")
    sums = block_sums(sheet)
    best, at = 0.0, 0
    for period in PERIODS:
        score, shift = _strongest(periodicity(sums, period), own_period(sums, period))
        if score > best:
            best, at = score, shift
    found = best > THRESHOLD
    return {
        "score": round(best, 2),
        "threshold": THRESHOLD,
        "found": found,
        "offset": [at % BLOCK, at // BLOCK] if found else None,
        "undecided": None,
    }


def _mirror(shift: int) -> int:
    x, y = shift % BLOCK, shift // BLOCK
    return -y % BLOCK * BLOCK + -x % BLOCK


def _strongest(strengths: list[float], own: float) -> tuple[float, int]:
    """Shift that stands out most against its mirror image, in standard deviations."""
    pairs = [shift for shift in range(1, 64) if shift < _mirror(shift)]
    gaps = sorted(abs(strengths[s] - strengths[_mirror(s)]) for s in pairs)
    # 0.6745: the median of the magnitude of a normal deviate is that many standard deviations
    spread = gaps[len(gaps) // 2] / 0.6745 + 1e-4
    best, at = 0.0, 0
    own = max(own, abs(strengths[0]))
    middle = sorted(strengths)[32]
    for shift in range(1, 64):
        twin = _mirror(shift)
        # three shifts are their own mirror image: there the file's own grid is the measure
        against = strengths[twin] if twin != shift else middle + own
        score = (strengths[shift] - against) / spread
        if score > best:
            best, at = score, shift
    return best, at
