"""A side as numbers: the mean luma and chroma of short segments of each of its outermost lines.

A segment of 8 px lies on one block of a JPEG, so its mean keeps out most of the ringing of lossy
compression: of a block's 64 coefficients only the 8 without horizontal change are left in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, TypeVar

from pytest_webdeliverable.measure.edges.strips import strip

if TYPE_CHECKING:
    from collections.abc import Sequence

    from PIL import Image

    from pytest_webdeliverable.measure.edges.color import Ycc
    from pytest_webdeliverable.measure.edges.types import Side

T = TypeVar("T")

LINES: Final = 24
"""Lines looked at: the deepest gap (8 px), and twice as much again to see what the art does."""
SEGMENT: Final = 8
"""px of a segment along the side: the width of a JPEG block (ITU-T T.81)."""
FEWEST: Final = 80
"""Segments wanted on a side; shorter sides get shorter segments, down to 2 px."""
LONGEST: Final = 400
"""Most segments on a side, so that a very long one costs no more than a screen's."""


SAMPLES: Final = 12
"""Segments of a run whose color difference is told."""


@dataclass(frozen=True, slots=True)
class Profile:
    """One side: ``luma[line][segment]`` and chroma likewise, 0..255, line 0 the outermost."""

    side: Side
    length: int
    """px along the side."""
    segment: int
    """px of a segment; the last one may be shorter."""
    luma: list[bytes]
    blue: list[bytes]
    """Cb of ITU-R BT.601, 128 for neutral."""
    red: list[bytes]
    """Cr of ITU-R BT.601, 128 for neutral."""
    pixels: Image.Image
    """The strip itself, RGB (or alpha alone), the outermost line on top."""
    means: Image.Image
    """The segments as a picture, one pixel each, in as many bands as are measured."""

    @property
    def count(self) -> int:
        """Segments along the side."""
        return len(self.luma[0])

    @property
    def lines(self) -> int:
        """Lines measured."""
        return len(self.luma)


def segment_length(length: int) -> int:
    """Return the px of a segment for a side of a length."""
    size = SEGMENT
    while size > 2 and length < size * FEWEST:
        size //= 2
    while length > size * LONGEST:
        size *= 2
    return size


def segments(picture: Image.Image, size: int) -> Image.Image:
    """Return a strip with each segment of ``size`` px made one pixel, its mean."""
    return picture.reduce((size, 1)) if picture.width >= size else picture


def planes(means: Image.Image) -> list[list[bytes]]:
    """Return a picture's values as ``[band][line][place]``."""
    bands = len(means.getbands())
    data, step = means.tobytes(), means.width * bands
    rows = [data[at : at + step] for at in range(0, len(data), step)]
    return [[row[band::bands] for row in rows] for band in range(bands)]


def lines_of(picture: Image.Image) -> int:
    """Return how many lines to look at: fewer on a tiny picture, so that sides do not overlap."""
    return max(1, min(LINES, min(picture.size) // 3))


def profile(picture: Image.Image, side: Side, lines: int = 0) -> Profile:
    """Return the profile of a side of an opaque picture, of the usual or a given number of lines."""
    pixels = strip(picture, side, lines or lines_of(picture)).convert("RGB")
    segment = segment_length(pixels.width)
    means = segments(pixels, segment).convert("YCbCr")
    luma, blue, red = planes(means)
    return Profile(side, pixels.width, segment, luma, blue, red, pixels, means)


def alpha_profile(alpha: Image.Image, side: Side) -> Profile:
    """Return a side's alpha as a profile whose luma is the alpha and whose chroma is neutral."""
    segment = segment_length(alpha.width)
    means = segments(alpha, segment)
    (rows,) = planes(means)
    neutral = [bytes([128]) * len(row) for row in rows]
    return Profile(side, alpha.width, segment, rows, neutral, neutral, alpha, means)


def sampled(segments: Sequence[T]) -> Sequence[T]:
    """Return about SAMPLES of a run's segments, evenly spread."""
    return segments[:: max(1, len(segments) // SAMPLES)]


def at_line(profile: Profile, line: int, at: int) -> Ycc:
    """Return the color of a segment of a line."""
    return profile.luma[line][at], profile.blue[line][at], profile.red[line][at]
