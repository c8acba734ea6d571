"""How deep a page color reaches, segment by segment, and what those depths agree on."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import fmean, median
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.edges.color import LUMA_TELLS, distance, sharpness
from pytest_webdeliverable.measure.edges.pages import CONTRAST, near_lines
from pytest_webdeliverable.measure.edges.profile import at_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pytest_webdeliverable.measure.edges.color import Ycc
    from pytest_webdeliverable.measure.edges.profile import Profile

DEEPEST: Final = 9.0
"""px; gaps are 1 to 8 px, margins 12 px and more."""
STAIR: Final = 0.62
"""px that depths of turned art may be off a straight line: turned without smoothing it makes stairs."""
STEEPEST: Final = 0.0105
"""Most px of depth per px of side: art turned by 0.6 degrees."""
FLATTEST: Final = 0.0004
"""Least px of depth per px of side that counts as turned: 0.02 degrees."""
SHALLOW: Final = 1.5
"""px: a wedge's shallow end is on the side or near it."""
RINGING: Final = 0.13
"""Share of the contrast that ringing leaves in the mean of a page line beside the art."""
SOFT: Final = 0.25
"""Weight of a segment whose depth chroma alone tells: it is often too deep."""
GROUND: Final = float("inf")
"""The depth of a segment in which the page color does not end: ground."""


@dataclass(slots=True)
class Depths:
    """Per segment for one page color: depth (px; None where art, GROUND where ground), contrast."""

    depth: list[float | None]
    contrast: list[float]
    soft: list[bool]
    """Whether chroma tells most of the contrast: 4:2:0 may have smeared it over several lines."""
    near: list[bytes]
    """``near[line][segment]``: whether the page color shows (not 0)."""

    def tells(self, at: int) -> bool:
        """Return whether a segment shows page and, clearly different, art."""
        return self.contrast[at] >= CONTRAST


def depths(profile: Profile, page: Ycc) -> Depths:
    """Measure how deep a page color reaches in each segment."""
    near = near_lines(profile, page)
    depth: list[float | None] = []
    contrast: list[float] = []
    soft: list[bool] = []
    last = profile.lines - 1
    for at in range(profile.count):
        if not near[0][at]:
            depth.append(None)
            contrast.append(0.0)
            soft.append(False)
            continue
        line = 1
        while line < last and near[line][at]:
            line += 1
        if line >= last:
            depth.append(GROUND)
            contrast.append(0.0)
            soft.append(False)
            continue
        # Ringing may carry the last page line out of the tolerance: what is nearly all page is page.
        while (
            line + 2 <= last
            and sharpness(page, at_line(profile, line, at), at_line(profile, line + 2, at))
            <= RINGING
        ):
            line += 1
        art, mixed = at_line(profile, line + 1, at), at_line(profile, line, at)
        # The share of art in the mixed line, along the straight line from page to art.
        numerator = denominator = 0.0
        for weight, p, m, a in zip((1.0, 0.25, 0.25), page, mixed, art, strict=True):
            numerator += weight * (m - p) * (a - p)
            denominator += weight * (a - p) * (a - p)
        share = min(1.0, max(0.0, numerator / denominator)) if denominator else 1.0
        depth.append(line + 1.0 - share)
        contrast.append(distance(page, art))
        soft.append(abs(page[0] - art[0]) < LUMA_TELLS)
    return Depths(depth, contrast, soft, near)


def best_span(scores: Sequence[float]) -> tuple[int, int, float]:
    """Return the stretch (first, last + 1) with the greatest sum, and that sum."""
    best, best_first, best_last = 0.0, 0, 0
    total, first = 0.0, 0
    for at, score in enumerate(scores):
        if total <= 0:
            total, first = 0.0, at
        total += score
        if total > best:
            best, best_first, best_last = total, first, at + 1
    return best_first, best_last, best


def common_depth(found: Depths) -> float | None:
    """Return the depth most segments agree on."""
    bins: dict[int, float] = {}
    for depth, contrast, soft in zip(found.depth, found.contrast, found.soft, strict=True):
        if depth is not None and contrast >= CONTRAST and depth <= DEEPEST:
            key = round(depth * 4)
            bins[key] = bins.get(key, 0.0) + min(1.0, contrast / 40) * (SOFT if soft else 1.0)
    if not bins:
        return None
    best = max(bins, key=lambda key: sum(bins.get(key + step, 0.0) for step in (-1, 0, 1)))
    return median(
        depth
        for depth, contrast in zip(found.depth, found.contrast, strict=True)
        if depth is not None and contrast >= CONTRAST and abs(depth - best / 4) <= 0.4
    )


def line_of_depths(found: Depths, segment: int, corner: int) -> tuple[float, float] | None:
    """Return the straight line (depth at segment 0, px per segment) most segments agree on."""
    count = len(found.depth)
    points = [
        (at, depth)
        for at, depth in enumerate(found.depth)
        if depth is not None and found.tells(at) and corner <= at < count - corner
    ]
    if len(points) < 8:
        return None
    picks = points[:: max(1, len(points) // 9)]
    best, line = 0, None
    for one, (x1, y1) in enumerate(picks):
        for x2, y2 in picks[one + 1 :]:
            slope = (y2 - y1) / (x2 - x1)
            if not FLATTEST <= abs(slope) / segment <= STEEPEST:
                continue
            # On stairs the line runs through the middle of the steps, not through their ends.
            for shift in (-0.45, 0.0, 0.45):
                base = y1 + shift - slope * x1
                if min(base, base + slope * count) > SHALLOW:
                    continue
                agreeing = sum(abs(y - base - slope * x) <= STAIR for x, y in points)
                if agreeing > best:
                    best, line = agreeing, (base, slope)
    if line is None:
        return None
    # Refine by least squares over the segments that agree.
    base, slope = line
    agreed = [(x, y) for x, y in points if abs(y - base - slope * x) <= STAIR]
    mean_x, mean_y = fmean(x for x, _ in agreed), fmean(y for _, y in agreed)
    # Both points of the pick agree, so that this is never 0.
    spread = sum((x - mean_x) ** 2 for x, _ in agreed)
    slope = sum((x - mean_x) * (y - mean_y) for x, y in agreed) / spread
    return mean_y - slope * mean_x, slope
