"""Gaps of less than a line: the outermost line is a mix of the art and one page color.

A line of which the share ``a`` is page is ``a * page + (1 - a) * art``: each of its segments lies on the
straight line from the art to the page, at the same share. Neighboring lines of a picture differ in
every direction. How unlike they are further in says what is unlike enough.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate
from math import sqrt
from statistics import fmean
from typing import TYPE_CHECKING, Final

from PIL import ImageChops

from pytest_webdeliverable.measure.edges.color import difference, rgb
from pytest_webdeliverable.measure.edges.depths import best_span
from pytest_webdeliverable.measure.edges.profile import planes, sampled

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pytest_webdeliverable.measure.edges.color import Ycc
    from pytest_webdeliverable.measure.edges.profile import Profile

INNER: Final = 6
"""Lines further in on which the same test is made, to know what the picture does by itself."""
RIVALS: Final = 16
"""Lines further in that may speak for a mix as loud as the outermost one does."""
WEIGHTS: Final = (1.0, 0.1, 0.1)
"""Weights of luma and chroma in squared distances: 4:2:0 smears chroma over
several lines."""
FLOOR: Final = 2.0
"""Codes of difference between neighboring lines that lossy compression leaves in a flat area."""
LEAST, MOST = 0.13, 0.97
"""Shares of page looked for."""
CALM: Final = 5
"""Lines compared at the first look: the outermost step and the four inside it."""
CHROMA_LINE: Final = 3
"""Line whose chroma is the art's own: 4:2:0 gives the outermost two one chroma, and blends the next."""
CLIP: Final = 4.0
"""Most one segment may speak for or against, so that no few of them decide."""

WHITE: Final[Ycc] = (255.0, 128.0, 128.0)
BLACK: Final[Ycc] = (0.0, 128.0, 128.0)


@dataclass(slots=True)
class Steps:
    """What one line differs by from what the lines inside it lead to expect, per segment."""

    expected: list[list[float]]
    off: list[list[float]]
    noise: list[float]
    """Variance of such differences further in, weighted like a squared distance."""


def _smooth(values: Sequence[float], reach: int) -> list[float]:
    """Return a running mean; at the ends over what there is."""
    size = len(values)
    sums = [0.0, *accumulate(values)]
    smooth = []
    for at in range(size):
        low, high = max(0, at - reach), min(size, at + reach + 1)
        smooth.append((sums[high] - sums[low]) / (high - low))
    return smooth


def steps(profile: Profile, line: int, noise: list[float]) -> Steps:
    """Compare a line with the continuation of the lines inside it."""
    expected, off = [], []
    for plane in (profile.luma, profile.blue, profile.red):
        here, one, three = plane[line], plane[line + 1], plane[line + 3]
        slope = _smooth([(a - b) / 2 for a, b in zip(one, three, strict=True)], 3)
        lead = [a + s for a, s in zip(one, slope, strict=True)]
        expected.append(lead)
        off.append([a - b for a, b in zip(here, lead, strict=True)])
    return Steps(expected, off, noise)


def noise_of(profile: Profile) -> list[float]:
    """Return the variance between neighboring inner lines, per segment."""
    total = [0.0] * profile.count
    lines = range(1, min(INNER + 1, profile.lines - 1))
    for weight, plane in zip(WEIGHTS, (profile.luma, profile.blue, profile.red), strict=True):
        for line in lines:
            for at, (a, b) in enumerate(zip(plane[line], plane[line + 1], strict=True)):
                total[at] += weight * (a - b) * (a - b)
    own = [value / len(lines) for value in total]
    return [FLOOR * FLOOR + value for value in _smooth(own, 2)]


def restless(profile: Profile) -> bool:
    """Return whether some stretch of the outermost line stands out from the lines inside it."""
    if profile.lines < INNER + 5:
        return False
    means = profile.means
    upper = means.crop((0, 0, means.width, CALM))
    lower = means.crop((0, 1, means.width, CALM + 1))
    block = max(4, means.width // 12)
    size = planes(ImageChops.difference(upper, lower).reduce((block, 1)))
    # Halved and moved to the middle of the range, so that a signed mean fits 8 bits.
    move = planes(ImageChops.subtract(upper, lower, 2, 128).reduce((block, 1)))
    for sizes, moves in zip(size, move, strict=True):
        for at, own in enumerate(sizes[0]):
            calm = max(sizes[line][at] for line in range(1, CALM))
            moved = 2 * abs(moves[0][at] - 128)
            still = 2 * max(abs(moves[line][at] - 128) for line in range(1, CALM))
            if own > 1.35 * calm + 1 and moved > 1.6 * still + 1:
                return True
            if own > 1.8 * calm + 2:
                return True
    return False


@dataclass(slots=True)
class Mix:
    """Per segment: products that tell the share of page, for one page color and line."""

    along: list[float]
    """Offset times direction to the page."""
    squared: list[float]
    """Direction to the page, squared."""
    noise: list[float]


def mixes(found: Steps, page: Ycc) -> Mix:
    """Project each segment's offset on the way from the art to a page color."""
    size = len(found.noise)
    along, squared = [0.0] * size, [0.0] * size
    for weight, goal, expected, off in zip(WEIGHTS, page, found.expected, found.off, strict=True):
        for at in range(size):
            way = goal - expected[at]
            along[at] += weight * way * off[at]
            squared[at] += weight * way * way
    return Mix(along, squared, found.noise)


def _seed(mix: Mix) -> tuple[float, float]:
    """Return the share of page of the stretch that stands out most, and by how much (chi squared)."""
    size = len(mix.noise)
    up = [0.0]
    down = [0.0]
    for along, squared, noise in zip(mix.along, mix.squared, mix.noise, strict=True):
        up.append(up[-1] + along / noise)
        down.append(down[-1] + squared / noise)
    best, share = 0.0, 0.0
    for parts in (1, 3, 8, 14):
        length = max(4, size // parts)
        for first in range(0, size - length + 1, length // 2):
            above = up[first + length] - up[first]
            below = down[first + length] - down[first]
            if below > 0 and above > 0 and above * above / below > best:
                best, share = above * above / below, above / below
    return share, best


def _speak(mix: Mix, shares: Sequence[float]) -> list[float]:
    scores = []
    for along, squared, noise, share in zip(mix.along, mix.squared, mix.noise, shares, strict=True):
        value = (2 * share * along - share * share * squared) / (2 * noise)
        scores.append(max(-CLIP, min(CLIP, value)) if share > 0 else -0.05)
    return scores


@dataclass(slots=True)
class PartRun:
    """A stretch whose outermost line is a mix: share of page at both ends, and what speaks for it."""

    first: int
    last: int
    share_first: float
    share_last: float
    page: Ycc
    speaks: float
    """Log likelihood of the mix against the art going on."""
    agree: float
    """Weighted share of the segments that show about the same share of page."""
    told: float
    """What the offset of the line owes to the mix, 0..1."""
    art: Ycc
    line: Ycc
    """Mean colors of the line inside and of the mixed line."""
    seen: float
    """CIEDE2000 between the art and its mix with the page, mean along the stretch."""

    @property
    def straight(self) -> bool:
        """Whether the share is the same all along."""
        return self.share_first == self.share_last


def _fit(mix: Mix, first: int, last: int) -> tuple[float, float]:
    """Return the straight line (share at segment 0, change per segment) through a stretch's shares."""
    weight = total_x = total_y = 0.0
    for at in range(first, last):
        w = mix.squared[at] / mix.noise[at]
        weight += w
        total_x += w * at
        total_y += mix.along[at] / mix.noise[at]
    if weight <= 0:
        return 0.0, 0.0
    mean_x, mean_y = total_x / weight, total_y / weight
    xx = xy = 0.0
    for at in range(first, last):
        w = mix.squared[at] / mix.noise[at]
        xx += w * (at - mean_x) ** 2
        xy += (at - mean_x) * mix.along[at] / mix.noise[at]
    slope = xy / xx if xx > 0 else 0.0
    # A slope counts when it is clearly more than its own uncertainty.
    if abs(slope) * sqrt(xx) < 5 or abs(slope) * (last - first) < 0.25:
        return mean_y, 0.0
    return mean_y - slope * mean_x, slope


def _stretch(mix: Mix) -> tuple[int, int, float, float, float]:
    """Return the best stretch: first, last + 1, share at segment 0, change per segment, score."""
    share, power = _seed(mix)
    size = len(mix.noise)
    if power < 12 or not LEAST / 2 <= share <= 1.3:
        return 0, 0, 0.0, 0.0, 0.0
    base, slope = min(share, 1.0), 0.0
    for _ in range(3):
        shares = [max(0.0, min(1.0, base + slope * at)) for at in range(size)]
        first, last, score = best_span(_speak(mix, shares))
        if last - first < 3:
            return 0, 0, 0.0, 0.0, 0.0
        base, slope = _fit(mix, first, last)
    return first, last, base, slope, score


def part_run(profile: Profile, page: Ycc, noise: list[float]) -> PartRun | None:
    """Return the best stretch on which the outermost line is a mix with a page color."""
    if profile.lines < INNER + 5:
        return None
    found = steps(profile, 0, noise)
    mix = mixes(found, page)
    first, last, base, slope, score = _stretch(mix)
    if score < 16:
        return None
    middle = base + slope * (first + last - 1) / 2
    if not LEAST <= middle <= MOST:
        return None
    weight = agreeing = explained = whole = 0.0
    for at in range(first, last):
        share = max(0.0, min(1.0, base + slope * at))
        w = min(mix.squared[at] / mix.noise[at], 50.0)
        own = mix.along[at] / mix.squared[at] if mix.squared[at] else 0.0
        weight += w
        agreeing += w * (0.4 * share <= own <= 1.6 * share)
        for band, wb in enumerate(WEIGHTS):
            off = found.off[band][at]
            left = off - share * (page[band] - found.expected[band][at])
            whole += wb * off * off
            explained += wb * left * left

    inner = profile.luma[1], profile.blue[CHROMA_LINE], profile.red[CHROMA_LINE]

    def mean(planes: Sequence[Sequence[float]]) -> Ycc:
        a, b, c = (sum(plane[first:last]) / (last - first) for plane in planes)
        return a, b, c

    def at_segment(at: int) -> float:
        share = max(0.0, min(1.0, base + slope * at))
        art = (float(inner[0][at]), float(inner[1][at]), float(inner[2][at]))
        a, b, c = (own + share * (goal - own) for own, goal in zip(art, page, strict=True))
        return difference(rgb(art), rgb((a, b, c)))

    return PartRun(
        first,
        last,
        base + slope * first,
        base + slope * (last - 1),
        page,
        score,
        agreeing / weight,
        1 - explained / whole,
        mean(inner),
        mean((profile.luma[0], profile.blue[0], profile.red[0])),
        fmean(map(at_segment, sampled(range(first, last)))),
    )


def rival(profile: Profile, page: Ycc, noise: list[float]) -> float:
    """Return how loud the lines further in speak for a mix with the same page color."""
    loud = [
        _stretch(mixes(steps(profile, line, noise), page))[4]
        for line in range(1, min(RIVALS, profile.lines - 3))
    ]
    # Right beside the line its own ringing speaks as well; further in only the picture does.
    return max(*loud[: INNER - 1], 0.5 * max(loud))


def unknown_page(profile: Profile, noise: list[float]) -> list[Ycc]:
    """Return page colors that the outermost line's lack of contrast points to: whole, halves, quarters."""
    found = steps(profile, 0, noise)
    size = profile.count
    pages: list[Ycc] = []
    for parts in (1, 2, 4):
        length = size // parts
        for part in range(parts):
            span = range(part * length, part * length + length)
            mean_x = sum(found.expected[0][at] for at in span) / length
            xx = sum((found.expected[0][at] - mean_x) ** 2 for at in span)
            xy = sum((found.expected[0][at] - mean_x) * found.off[0][at] for at in span)
            if xx < 16 * length:
                continue
            share = -xy / xx
            if not LEAST <= share <= MOST:
                continue
            page = []
            for expected, off in zip(found.expected, found.off, strict=True):
                mean = sum(expected[at] + off[at] / share for at in span) / length
                page.append(max(0.0, min(255.0, mean)))
            pages.append((page[0], page[1], page[2]))
    return pages
