"""Gaps of one whole line and more: page color up to one depth along the side, art from there on.

For a page color, each segment of the side tells how deep that color reaches (with the fraction of the
line that is a mix). Where the page stops short the depths of many segments agree, or grow in a straight
line if the art was turned; a picture's own edges wander, fade, or come back further in.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import fmean, median, pstdev
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.edges.color import difference, distance, rgb, sharpness
from pytest_webdeliverable.measure.edges.depths import (
    GROUND,
    STAIR,
    Depths,
    best_span,
    common_depth,
    depths,
    line_of_depths,
)
from pytest_webdeliverable.measure.edges.pages import (
    CONTRAST,
    SHORTEST,
    STILL,
)
from pytest_webdeliverable.measure.edges.profile import at_line, sampled
from pytest_webdeliverable.measure.edges.still import banded, grain_and_drift

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.edges.color import Ycc
    from pytest_webdeliverable.measure.edges.profile import Profile

AGREE: Final = 0.35
"""px that depths of one straight gap may differ, besides the noise of low contrast."""
NOISE: Final = 5.0
"""px times codes: what noise of a few codes does to a depth, divided by the contrast."""
CORNER: Final = 12
"""px at both ends of a side that belong to the neighboring side's gap as well."""
SMEAR: Final = (1.0, 2.0)
"""px by which a depth told by chroma alone may fall short and go beyond: 4:2:0 spreads it over four lines."""
STEP_DEPTH: Final = 1.3
"""Most px between the depths on both sides of a run's end on the stairs of art turned unsmoothed."""
OPEN: Final = 0.12
"""Share of the contrast by which a color beside a run may be off and still be the page going on."""
SHALLOWEST: Final = 1.3
"""px of a wedge's depth from which its outermost line is all page."""
SLENDER: Final = 2.0
"""Least length of a gap as a multiple of its depth: a patch in a corner is a shape of the art, or a nick."""
FURTHER: Final = 12
"""Lines further in at which a gradient beside the edge would show."""


@dataclass(frozen=True, slots=True)
class Run:
    """Agreeing segments: first and last + 1, depth at both ends (px), page, and what speaks for it."""

    first: int
    last: int
    depth_first: float
    depth_last: float
    page: Ycc
    art: Ycc
    told: int
    """Segments inside that show page against art."""
    share: float
    """Told segments as a share of those that could have told."""
    contrast: float
    spread: float
    """How much the art beside the gap varies along it, codes."""
    sharp: float
    """How much of the art's contrast is there on the second line after the page."""
    lasting: float
    """The same against lines much further in: low where a gradient goes on."""
    banded: bool
    """Whether flat art has another step parallel to the side further in."""
    back: float
    """Share of the told segments in which the page color comes back further in."""
    ground: float
    """Share of the run's segments in which the page color does not end: ground between shapes."""
    opens: int
    """Ends of the run beyond which the page color goes on along the outermost line: 0, 1, 2."""
    grain: float
    """Codes of luma within which GRAINY of the single pixels of the page lines lie."""
    drift: float
    """Codes of luma by which the page changes from one end of the run to the other."""
    seen: float
    """CIEDE2000 between the page and the art beside it, mean along the run."""

    @property
    def depth(self) -> float:
        """The depth (px) where it is greatest."""
        return max(self.depth_first, self.depth_last)

    @property
    def straight(self) -> bool:
        """Whether the depth is the same all along."""
        return self.depth_first == self.depth_last


def _smeared(found: Depths, at: int, expected: float) -> bool:
    """Return whether a segment's depth is as far from the expected one as smeared chroma may take it."""
    depth = found.depth[at]
    if depth is None or not found.soft[at]:
        return False
    return -SMEAR[0] <= depth - expected <= SMEAR[1]


def _scores(
    found: Depths, base: float, slope: float, corner: int
) -> tuple[list[float], list[bool]]:
    """Return how much each segment speaks for a gap of the expected depths, and which tell of it."""
    scores, told = [], []
    count = len(found.depth)
    slack = STAIR if slope else AGREE
    for at, (depth, contrast) in enumerate(zip(found.depth, found.contrast, strict=True)):
        tells = False
        expected = base + slope * at
        if depth is None:
            # A turned picture's gap may run out within the first line: no page there, no fault.
            score = -2.0 if not slope or expected > 0.7 else -0.1
        elif depth == GROUND or contrast < CONTRAST:
            score = -0.02
        elif abs(depth - expected) <= slack + NOISE / contrast:
            score, tells = 1.0, True
        elif _smeared(found, at, expected):
            score = 0.3
        elif contrast < 2 * CONTRAST:
            score = -0.3
        else:
            score = -1.5
        if score < 0 and (at < corner or at >= count - corner):
            score = -0.02
        scores.append(score)
        told.append(tells)
    return scores, told


def _one_step(found: Depths, base: float, beyond: range) -> bool:
    """Return whether all segments between a run's end and the side's corner lie one step deeper."""
    return all(
        found.tells(at) and 0 <= (found.depth[at] or 0) - base <= STEP_DEPTH for at in beyond
    )


def _px(profile: Profile, inside: list[int]) -> tuple[int, int]:
    """Return the px between which segments lie: the last one of a side may be shorter."""
    return inside[0] * profile.segment, min((inside[-1] + 1) * profile.segment, profile.length)


def _describe(
    profile: Profile,
    page: Ycc,
    found: Depths,
    *,
    inside: list[int],
    ends: tuple[int, int],
    line: tuple[float, float],
) -> Run:
    """Gather what speaks for and against a run."""
    (first, last), (base, slope) = ends, line
    deepest = profile.lines - 4
    reach = [min(int(found.depth[at] or 0), deepest) for at in inside]
    arts = [at_line(profile, depth + 2, at) for depth, at in zip(reach, inside, strict=True)]
    sharp, lasting, back = [], [], 0
    for depth, at in zip(reach, inside, strict=True):
        soon = at_line(profile, depth + 1, at)
        sharp.append(sharpness(page, soon, at_line(profile, depth + 3, at)))
        further = at_line(profile, min(depth + FURTHER, profile.lines - 1), at)
        lasting.append(sharpness(page, soon, further))
        back += any(found.near[line][at] for line in range(depth + 2, profile.lines))
    agreed = set(inside)
    could = sum(
        at in agreed
        or found.depth[at] is None
        or (found.tells(at) and not _smeared(found, at, base + slope * at))
        for at in range(first, last)
        if not slope or base + slope * at > 0.7
    )
    corner = -(-CORNER // profile.segment)
    whole = max(1, int(min(base + slope * inside[0], base + slope * inside[-1]) + 0.1))
    left, right = _px(profile, inside)
    plain = [at for at in inside if base + slope * at >= SHALLOWEST] if slope else inside
    start, end = _px(profile, plain) if plain else (left, left)
    page_lines = profile.pixels.crop((left, 0, right, whole))
    grain, drift = grain_and_drift(page_lines, page, start - left, end - left)
    contrast = fmean(found.contrast[at] for at in inside)
    opens = sum(
        corner <= at < profile.count - corner
        and (found.near[0][at] or distance(page, at_line(profile, 0, at)) <= OPEN * contrast)
        and not (slope == 0 and _one_step(found, base, beyond))
        for at, beyond in (
            (first - 2, range(corner, first - 1)),
            (last + 1, range(last + 1, profile.count - corner)),
        )
    )
    means = [fmean(art[band] for art in arts) for band in range(3)]
    spreads = [pstdev(art[band] for art in arts) for band in range(3)]
    return Run(
        first=first,
        last=last,
        depth_first=base + slope * first,
        depth_last=base + slope * (last - 1),
        page=page,
        art=(means[0], means[1], means[2]),
        told=len(inside),
        share=len(inside) / max(1, could),
        contrast=contrast,
        spread=spreads[0] + 0.5 * (spreads[1] + spreads[2]),
        sharp=median(sharp),
        lasting=median(lasting),
        banded=banded(profile, inside, max(reach) + 2, contrast),
        back=back / len(inside),
        ground=sum(found.depth[at] == GROUND for at in range(first, last)) / (last - first),
        opens=opens,
        grain=grain,
        drift=drift,
        seen=fmean(difference(rgb(page), rgb(art)) for art in sampled(arts)),
    )


def _run(
    profile: Profile, page: Ycc, found: Depths, base: float, slope: float
) -> tuple[float, Run] | None:
    corner = -(-CORNER // profile.segment)
    scores, told = _scores(found, base, slope, corner)
    first, last, total = best_span(scores)
    inside = [at for at in range(first, last) if told[at]]
    if len(inside) < STILL:
        return None
    # A run that reaches a corner's segments ends at the corner itself.
    first = 0 if first <= corner else first
    last = profile.count if last >= profile.count - corner else last
    return total, _describe(
        profile, page, found, inside=inside, ends=(first, last), line=(base, slope)
    )


def corner_wedge(run: Run, count: int) -> bool:
    """Return whether a slanting run is deepest at an end of the side: turned art leaves no other."""
    near = max(3, round(0.06 * count))
    if run.depth_first > run.depth_last:
        return run.first <= near
    return run.last >= count - near


def candidates(profile: Profile, page: Ycc) -> list[Run]:
    """Return the stretches where a page color ends at one depth or in a straight line.

    At most one of each, the more likely first.
    """
    found = depths(profile, page)
    if sum(map(found.tells, range(profile.count))) < STILL:
        return []
    common = common_depth(found)
    even = _run(profile, page, found, common, 0.0) if common is not None else None
    corner = -(-CORNER // profile.segment)
    line = line_of_depths(found, profile.segment, corner)
    turned = _run(profile, page, found, *line) if line is not None else None
    if turned is None or not corner_wedge(turned[1], profile.count):
        return [even[1]] if even else []
    if even is None:
        return [turned[1]]
    # Turned art must explain clearly more than one depth does: its slack is wider. Less is enough
    # where one depth leaves page beside the run, as on the stairs of art turned unsmoothed.
    if even[1].opens > turned[1].opens:
        better = turned[0] > 1.06 * even[0] + 2
    else:
        better = turned[0] > 1.12 * even[0] + 4
    return [turned[1], even[1]] if better else [even[1]]


def long_enough(run: Run, lines: Profile) -> bool:
    """Return whether a run tells of a gap along enough of the side, and is a sliver rather than a patch."""
    length = (run.last - run.first) * lines.segment
    return run.told >= max(STILL, round(SHORTEST * lines.count)) and length >= SLENDER * run.depth
