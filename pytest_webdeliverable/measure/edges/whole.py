"""Gaps of one whole line and more: page colour up to one depth along the side, art from there on.

For a page colour, each segment of the side tells how deep that colour reaches (with the fraction of the
line that is a mix). Where the page stops short the depths of many segments agree, or grow in a straight
line if the art was turned; a picture's own edges wander, fade, or come back further in.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import fmean, median, pstdev
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.edges.color import sharpness
from pytest_webdeliverable.measure.edges.depths import (
    GROUND,
    STAIR,
    Depths,
    best_span,
    common_depth,
    depths,
    line_of_depths,
)
from pytest_webdeliverable.measure.edges.pages import CONTRAST, NEAR_LUMA, SHORTEST, STILL
from pytest_webdeliverable.measure.edges.profile import at_line

if TYPE_CHECKING:
    from PIL import Image

    from pytest_webdeliverable.measure.edges.color import Ycc
    from pytest_webdeliverable.measure.edges.profile import Profile

AGREE: Final = 0.35
"""px that depths of one straight gap may differ, besides the noise of low contrast."""
NOISE: Final = 5.0
"""px times codes: what noise of a few codes does to a depth, divided by the contrast."""
CORNER: Final = 12
"""px at both ends of a side that belong to the neighbouring side's gap as well."""
GRAINY: Final = 0.8
"""Share of pixels that tells how still the page lines are: the rest may be cut by something."""
FURTHER: Final = 12
"""Lines further in at which a gradient beside the edge would show."""
BANDS: Final = 8
"""Lines inside a gap in which such a line counts: further in it is the art's own business."""
BAND_STEP: Final = 6
"""Codes of luma between two lines, both still along the run, that make a line of the art's own."""


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
    """Share of the told segments in which the page colour comes back further in."""
    ground: float
    """Share of the run's segments in which the page colour does not end: ground between shapes."""
    opens: int
    """Ends of the run beyond which the page colour goes on along the outermost line: 0, 1, 2."""
    grain: float
    """Codes of luma within which GRAINY of the single pixels of the page lines lie."""
    drift: float
    """Codes of luma by which the page changes from one end of the run to the other."""

    @property
    def depth(self) -> float:
        """The depth (px) where it is greatest."""
        return max(self.depth_first, self.depth_last)

    @property
    def straight(self) -> bool:
        """Whether the depth is the same all along."""
        return self.depth_first == self.depth_last


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
        elif contrast < 2 * CONTRAST:
            score = -0.3
        else:
            score = -1.5
        if score < 0 and (at < corner or at >= count - corner):
            score = -0.02
        scores.append(score)
        told.append(tells)
    return scores, told


def _spread_about(lines: Image.Image, middle: float) -> float:
    """Return the codes within which GRAINY of the pixels lie about a luma."""
    counts = lines.histogram()
    left = (1 - GRAINY) * sum(counts)
    for off in range(255, -1, -1):
        center = round(middle)
        left -= counts[center + off] if center + off < 256 else 0
        left -= counts[center - off] if off and center >= off else 0
        if left <= 0:
            return float(off)
    return 0.0


def _banded(profile: Profile, inside: list[int], start: int) -> bool:
    """Return whether the art inside a run is made of bands parallel to the side."""
    level = None
    for line in range(start, min(profile.lines, start + BANDS)):
        row = [profile.luma[line][at] for at in inside]
        middle = median(row)
        still = sum(abs(value - middle) <= NEAR_LUMA for value in row) >= 0.85 * len(row)
        if still and level is not None and abs(middle - level) >= BAND_STEP:
            return True
        level = middle if still else None
    return False


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
    reach = [max(1, min(int(found.depth[at] or 1), deepest)) for at in inside]
    arts = [at_line(profile, depth + 2, at) for depth, at in zip(reach, inside, strict=True)]
    sharp, lasting, back = [], [], 0
    for depth, at in zip(reach, inside, strict=True):
        soon = at_line(profile, depth + 1, at)
        sharp.append(sharpness(page, soon, at_line(profile, depth + 3, at)))
        further = at_line(profile, min(depth + FURTHER, profile.lines - 1), at)
        lasting.append(sharpness(page, soon, further))
        back += any(found.near[line][at] for line in range(depth + 2, profile.lines))
    could = sum(
        found.depth[at] is None or found.tells(at)
        for at in range(first, last)
        if not slope or base + slope * at > 0.7
    )
    corner = -(-CORNER // profile.segment)
    opens = sum(
        corner <= at < profile.count - corner and bool(found.near[0][at])
        for at in (first - 2, last + 1)
    )
    whole = max(1, int(min(base + slope * inside[0], base + slope * inside[-1]) + 0.1))
    box = inside[0] * profile.segment, 0, (inside[-1] + 1) * profile.segment, whole
    page_lines = profile.pixels.crop(box).convert("L")
    third = max(1, len(inside) // 3)
    drift = fmean(profile.luma[0][at] for at in inside[:third]) - fmean(
        profile.luma[0][at] for at in inside[-third:]
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
        contrast=fmean(found.contrast[at] for at in inside),
        spread=spreads[0] + 0.5 * (spreads[1] + spreads[2]),
        sharp=median(sharp),
        lasting=median(lasting),
        banded=_banded(profile, inside, max(reach) + 2),
        back=back / len(inside),
        ground=sum(found.depth[at] == GROUND for at in range(first, last)) / max(1, last - first),
        opens=opens,
        grain=_spread_about(page_lines, page[0]),
        drift=drift,
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
    """Return the stretches where a page colour ends at one depth or in a straight line.

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


def long_enough(run: Run, count: int) -> bool:
    """Return whether a run tells of a gap along enough of the side."""
    return run.told >= max(STILL, round(SHORTEST * count))
