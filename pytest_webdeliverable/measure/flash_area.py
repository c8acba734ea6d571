"""How much of a field of view changes how often within one second.

The part of WCAG 2.2, success criterion 2.3.1, that is about area: flashes count when they fill a
quarter of any field of 341 x 256 CSS px.
"""

from __future__ import annotations

from collections import deque
from itertools import accumulate
from typing import Final, TypedDict

from PIL import Image, ImageChops, ImageMath

FIELD: Final = (341, 256)
"""CSS px of a 10 degree field of view (WCAG 2.2, flash thresholds, note)."""
QUARTER: Final = 21_824
"""CSS px, 25 % of the field: the area that may not flash (WCAG 2.2; technique G176)."""
ONE_SECOND: Final = 1000
"""Milliseconds in which changes are counted, the end not included."""


class FlashFacts(TypedDict):
    """How often a quarter of a field flashes.

    ``flashes_per_second`` is the highest rate that it reaches, in halves (a change is half a
    flash), 0 without any; ``area`` the CSS px within one field that flash so often; ``at`` where
    that second begins, in seconds from the start.
    """

    flashes_per_second: float
    area: int
    at: float


NO_FLASH: Final[FlashFacts] = {"flashes_per_second": 0.0, "area": 0, "at": 0.0}


def _sum(first: Image.Image, second: Image.Image) -> Image.Image:
    total = ImageMath.lambda_eval(lambda x: x["a"] + x["b"], a=first, b=second)
    assert isinstance(total, Image.Image)
    return total


class Tally:
    """Changes of every place within the last second, and the worst that they came to."""

    def __init__(self, cell: tuple[float, float], least: float, size: tuple[int, int]) -> None:
        width, height = cell
        self._cell = width * height
        self._least = least
        self._field = (max(1, round(FIELD[0] / width)), max(1, round(FIELD[1] / height)))
        self._recent: deque[tuple[int, Image.Image]] = deque()
        self._count = Image.new("L", size)
        self._changes = 0
        self._area = 0.0
        self._at = 0

    def add(self, mask: Image.Image, now: int) -> None:
        """Take in the places (1, others 0) that changed at ``now`` ms."""
        while self._recent and self._recent[0][0] <= now - ONE_SECOND:
            self._count = ImageChops.subtract(self._count, self._recent.popleft()[1])
        if mask.getbbox() is None:
            return
        self._recent.append((now, mask))
        self._count = ImageChops.add(self._count, mask)
        # How many places changed at least so often: an upper limit for the part within a field.
        at_least = list(accumulate(reversed(self._count.histogram())))[::-1]
        low = max(self._changes, 2)  # a single change is no flash
        high = sum(places * self._cell >= self._least for places in at_least) - 1
        while low <= high:
            changes = (low + high) // 2
            most = min(at_least[changes], self._field[0] * self._field[1]) * self._cell
            if changes == self._changes and most <= self._area:
                low = changes + 1
                continue
            area = self._largest(changes)
            if area < self._least:
                high = changes - 1
                continue
            if changes > self._changes or area > self._area:
                self._changes, self._area, self._at = changes, area, self._recent[0][0]
            low = changes + 1

    def _largest(self, changes: int) -> float:
        """Largest area within one field, in CSS px, of places with at least so many changes."""
        places = self._count.point([int(n >= changes) for n in range(256)])
        sums = places.convert("F")
        for axis, length in enumerate(self._field):
            sums = _sliding_sum(sums, min(length, sums.size[axis]), axis)
        largest = sums.getextrema()[1]
        assert isinstance(largest, float)
        return largest * self._cell

    def facts(self, period: int) -> FlashFacts:
        """Return the worst; ``period`` is the length of the animation in ms."""
        if not self._area:
            return NO_FLASH
        return {
            "flashes_per_second": self._changes / 2,
            "area": round(self._area),
            "at": self._at % period / 1000,
        }


def _sliding_sum(picture: Image.Image, length: int, axis: int) -> Image.Image:
    """Sum of ``length`` neighbors from each place on, by sums of 1, 2, 4, ... neighbors."""
    width, height = picture.size

    def shifted(by: int) -> tuple[int, int, int, int]:
        x, y = (0, by) if axis else (by, 0)
        return x, y, x + width, y + height

    power, size = picture, 1
    total = Image.new("F", picture.size)
    done = 0
    while True:
        if length & size:
            total = _sum(total, power.crop(shifted(done)))
            done += size
        if done == length:
            return total
        power = _sum(power, power.crop(shifted(size)))
        size *= 2
