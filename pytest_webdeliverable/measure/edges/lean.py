"""Wedges: the gap of art that was turned by a fraction of a degree.

Its depth grows in a straight line from nothing. Where it is less than a line deep the outermost line is
a mix, so a run of whole lines is only its deep end: this follows it down.
"""

from __future__ import annotations

from dataclasses import replace
from math import sqrt
from statistics import fmean
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.edges.depths import FLATTEST, STAIR, STEEPEST, best_span, depths
from pytest_webdeliverable.measure.edges.part import INNER, mixes, noise_of, steps
from pytest_webdeliverable.measure.edges.whole import Run, corner_wedge

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.edges.profile import Profile

SURE: Final = 0.3
"""Most uncertainty (px) of a segment's depth below one line that still tells."""
AGREEING: Final = 0.85
"""Share of the segments that must lie on the line."""
LEAST_RISE: Final = 0.6
"""px by which the depth must change along the wedge."""
FULL: Final = 0.97
"""Share of a side from which a run needs no following."""


def _depth_points(profile: Profile, run: Run) -> list[float | None]:
    """Return each segment's depth for the run's page, below one line from the mix; None if unsure."""
    found = depths(profile, run.page)
    noise = noise_of(profile)
    mix = mixes(steps(profile, 0, noise), run.page)
    points: list[float | None] = []
    for at, depth in enumerate(found.depth):
        if depth is not None:
            points.append(depth if found.tells(at) else None)
        elif mix.squared[at] > 0 and sqrt(mix.noise[at] / mix.squared[at]) <= SURE:
            points.append(mix.along[at] / mix.squared[at])
        else:
            points.append(None)
    return points


def lean(profile: Profile, run: Run) -> Run:
    """Return the run as a wedge along its whole length if depths lie on one line, else the run."""
    count = profile.count
    if run.last - run.first >= FULL * count or profile.lines < INNER + 5:
        return run
    points = _depth_points(profile, run)
    known = [(at, depth) for at, depth in enumerate(points) if depth is not None]
    inside = [(at, depth) for at, depth in known if run.first <= at < run.last]
    if len(inside) < 4:
        return run
    deep = [(at, depth) for at, depth in known if depth > 0.15]
    picks = deep[:: max(1, len(deep) // 14)]
    best, line = 0, (0.0, 0.0)
    for one, (x1, y1) in enumerate(picks):
        for x2, y2 in picks[one + 1 :]:
            slope = (y2 - y1) / (x2 - x1)
            if not FLATTEST <= abs(slope) / profile.segment <= STEEPEST:
                continue
            agreeing = sum(abs(y - y1 - slope * (x - x1)) <= 0.7 * STAIR for x, y in deep)
            if agreeing > best:
                best, line = agreeing, (y1 - slope * x1, slope)
    if best < 1.25 * len(inside) + 3:
        return run
    agreed = [(x, y) for x, y in deep if abs(y - line[0] - line[1] * x) <= STAIR]
    mean_x, mean_y = fmean(x for x, _ in agreed), fmean(y for _, y in agreed)
    spread = sum((x - mean_x) ** 2 for x, _ in agreed)
    slope = sum((x - mean_x) * y for x, y in agreed) / spread
    base = mean_y - slope * mean_x
    scores = []
    for at, depth in enumerate(points):
        expected = base + slope * at
        if depth is None:
            scores.append(-0.05)
        elif expected < 0.1:
            scores.append(-0.5)
        else:
            scores.append(1.0 if abs(depth - expected) <= STAIR else -1.0)
    first, last, _ = best_span(scores)
    within = [(at, depth) for at, depth in known if first <= at < last]
    on_line = [at for at, depth in within if abs(depth - base - slope * at) <= 0.7 * STAIR]
    if (
        last - first <= run.last - run.first
        or len(on_line) < AGREEING * len(within)
        or abs(slope) * (last - first) < LEAST_RISE
        or sum(run.first <= at < run.last for at in on_line) < AGREEING * len(inside)
    ):
        return run
    wedge = replace(
        run,
        first=first,
        last=last,
        depth_first=base + slope * first,
        depth_last=base + slope * (last - 1),
        told=max(run.told, sum(score == 1.0 for score in scores[first:last])),
        opens=0,
    )
    return wedge if corner_wedge(wedge, count) else run
