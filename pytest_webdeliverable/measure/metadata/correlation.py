"""Correlation of two small pictures, from histograms alone, so that no pixel is touched in Python."""

from __future__ import annotations

import math
from operator import mul
from typing import Final

from PIL import Image, ImageChops

Box = tuple[float, float, float, float]
"""Left, top, right, bottom in pixels, fractions allowed."""

LEVELS: Final = range(256)
_SQUARES: Final = tuple(level * level for level in LEVELS)


class Grid:
    """A small picture with the sums over its cells that every comparison needs."""

    def __init__(self, image: Image.Image) -> None:
        self.image = image
        self.cells = image.width * image.height
        self.sums: list[tuple[int, int]] = []
        self.spread = 0.0
        histogram = image.histogram()
        for start in range(0, len(histogram), 256):
            bins = histogram[start : start + 256]
            total = sum(map(mul, bins, LEVELS))
            squares = sum(map(mul, bins, _SQUARES))
            self.sums.append((total, squares))
            self.spread += squares - total * total / self.cells

    @property
    def deviation(self) -> float:
        """Standard deviation in levels, over all bands."""
        return math.sqrt(self.spread / self.cells / len(self.sums))


def grid(image: Image.Image, cells: int, box: Box | None = None) -> Grid:
    """Reduce ``image``, or ``box`` of it, to ``cells`` x ``cells`` averages."""
    return Grid(image.resize((cells, cells), Image.Resampling.BOX, box=box))


def correlation(one: Grid, other: Grid) -> float:
    """Pearson's correlation of the cells, -1 to 1, bands together; 0 where one has no contrast."""
    # The sum of products follows from the sums of squares and of squared differences.
    if one.spread <= 0 or other.spread <= 0:
        return 0.0
    histogram = ImageChops.difference(one.image, other.image).histogram()
    shared = 0.0
    for band, ((s1, q1), (s2, q2)) in enumerate(zip(one.sums, other.sums, strict=True)):
        squared = sum(map(mul, histogram[band * 256 : band * 256 + 256], _SQUARES))
        shared += (q1 + q2 - squared) / 2 - s1 * s2 / one.cells
    return shared / math.sqrt(one.spread * other.spread)
