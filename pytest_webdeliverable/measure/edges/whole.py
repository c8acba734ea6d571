"""Gaps of one whole line and more: page colour up to one depth along the side, art from there on.

For a page colour, each segment of the side tells how deep that colour reaches (with the fraction of the
line that is a mix). Where the page stops short the depths of many segments agree, or grow in a straight
line if the art was turned; a picture's own edges wander, fade, or come back further in.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from statistics import fmean, median, pstdev
from typing import TYPE_CHECKING, Final

from PIL import ImageChops

from pytest_webdeliverable.measure.edges.profile import planes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from PIL import Image

    from pytest_webdeliverable.measure.edges.profile import Profile

Ycc = tuple[float, float, float]
"""Luma and chroma as JFIF uses them (ITU-R BT.601, 0..255, 128 neutral)."""

NEAR_LUMA: Final = 6
"""Codes a page segment may be off in luma: quantisation at JPEG quality 75 leaves a standard deviation
of about 2 in the mean of a block's line."""
NEAR_CHROMA: Final = 9
"""The same in chroma, whose tables are coarser."""
SPILL: Final = 0.6
"""Share of the art's chroma that 4:2:0 may leave in the last page line: half, and noise."""
DEEPEST: Final = 9.0
"""px; gaps are 1 to 8 px, margins 12 px and more."""
CONTRAST: Final = 8.0
"""Codes of luma (chroma counts half) below which a segment cannot tell page from art."""
AGREE: Final = 0.35
"""px that depths of one straight gap may differ, besides the noise of low contrast."""
STAIR: Final = 0.62
"""px that depths of turned art may be off a straight line: turned without smoothing it makes stairs."""
NOISE: Final = 5.0
"""px times codes: what noise of a few codes does to a depth, divided by the contrast."""
STILL: Final = 3
"""Segments in a row that must show one colour for it to be a page colour."""
SHORTEST: Final = 0.04
"""Least length of a gap as a share of its side: 5 % less what segments round off."""
STEEPEST: Final = 0.0105
"""Most px of depth per px of side: art turned by 0.6 degrees."""
FLATTEST: Final = 0.0004
"""Least px of depth per px of side that counts as turned: 0.02 degrees."""
SHALLOW: Final = 3.0
"""px: a wedge's shallow end is on the side or near it."""
CORNER: Final = 12
"""px at both ends of a side that belong to the neighbouring side's gap as well."""
GRAINY: Final = 0.8
"""Share of pixels that tells how still the page lines are: the rest may be cut by something."""
GROUND: Final = float("inf")
"""The depth of a segment in which the page colour does not end: ground."""


@dataclass(slots=True)
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
    back: float
    """Share of the told segments in which the page colour comes back further in."""
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


@dataclass(slots=True)
class Depths:
    """Per segment for one page colour: depth (px; None where art, GROUND where ground), contrast."""

    depth: list[float | None]
    contrast: list[float]
    near: list[bytes]
    """``near[line][segment]``: whether the page colour shows (not 0)."""

    def tells(self, at: int) -> bool:
        """Return whether a segment shows page and, clearly different, art."""
        return self.contrast[at] >= CONTRAST


def distance(one: Ycc, other: Ycc) -> float:
    """Return the codes between two colours: luma counts whole, chroma half."""
    return abs(one[0] - other[0]) + 0.5 * max(abs(one[1] - other[1]), abs(one[2] - other[2]))


def at_line(profile: Profile, line: int, at: int) -> Ycc:
    """Return the colour of a segment of a line."""
    return profile.luma[line][at], profile.blue[line][at], profile.red[line][at]


def _sharp_ends(profile: Profile, page: Ycc, first: int, last: int) -> int:
    """Return in how many segments of a still stretch the colour ends sharply, at common depths.

    A quick look that spares skies and blurred grounds the long one: 0 if nothing speaks for a gap.
    """
    limit = min(int(DEEPEST) + 13, profile.lines - 3)
    ends: dict[int, int] = {}
    for at in range(first, last):
        line = 1
        while (
            line < limit
            and abs(profile.luma[line][at] - page[0]) <= NEAR_LUMA
            and abs(profile.blue[line][at] - page[1]) <= 2 * NEAR_CHROMA
            and abs(profile.red[line][at] - page[2]) <= 2 * NEAR_CHROMA
        ):
            line += 1
        if line >= limit:
            continue
        soon = distance(page, at_line(profile, line + 1, at))
        if soon >= CONTRAST and soon >= 0.6 * distance(page, at_line(profile, line + 3, at)):
            ends[line] = ends.get(line, 0) + 1
    if not ends:
        return 0
    most = max(count + ends.get(line + 1, 0) for line, count in ends.items())
    total = sum(ends.values())
    return total if most >= 2 and most >= 0.3 * total else 0


def page_colors(profile: Profile) -> list[Ycc]:
    """Return colours that keep still on a stretch of the outermost line and end sharply inward.

    The one with the most sharp ends comes first.
    """
    luma, blue, red = profile.luma[0], profile.blue[0], profile.red[0]
    found: list[tuple[Ycc, int]] = []
    at, count = 0, profile.count
    while at < count:
        end = at + 1
        low = high = luma[at]
        while end < count:
            value = luma[end]
            if (
                value > low + NEAR_LUMA
                or value < high - NEAR_LUMA
                or abs(blue[end] - blue[end - 1]) > 2 * NEAR_CHROMA
                or abs(red[end] - red[end - 1]) > 2 * NEAR_CHROMA
            ):
                break
            low, high = min(low, value), max(high, value)
            end += 1
        if end - at >= STILL:
            page = median(luma[at:end]), median(blue[at:end]), median(red[at:end])
            if ends := _sharp_ends(profile, page, at, end):
                found.append((page, ends))
        at = end
    merged: list[list[tuple[Ycc, int]]] = []
    for one in sorted(found, key=lambda item: -item[1]):
        for group in merged:
            known = group[0][0]
            if abs(known[0] - one[0][0]) <= 4 and distance(known, one[0]) <= NEAR_CHROMA:
                group.append(one)
                break
        else:
            merged.append([one])
    weighed = [(sum(ends for _, ends in group), group[0][0]) for group in merged]
    weighed.sort(key=lambda one: -one[0])
    least = max(2.0, 0.6 * SHORTEST * count)
    return [page for ends, page in weighed[:4] if ends >= least]


@lru_cache(maxsize=512)
def _table(center: float) -> list[int]:
    return [min(255, round(abs(value - center))) for value in range(256)]


def near_lines(profile: Profile, page: Ycc) -> list[bytes]:
    """Return, line by line, which segments show the page colour (not 0)."""
    if len(profile.means.getbands()) == 1:
        return planes(profile.means.point([value <= NEAR_LUMA for value in _table(page[0])]))[0]
    luma, blue, red = profile.means.split()
    luma = luma.point([255 * (value <= NEAR_LUMA) for value in _table(page[0])])
    chroma = ImageChops.lighter(blue.point(_table(page[1])), red.point(_table(page[2])))
    # What 4:2:0 spills of the art's chroma: a share of the chroma two lines further in.
    spilt = chroma.crop((0, 2, chroma.width, chroma.height + 2)).point(
        [max(NEAR_CHROMA, int(SPILL * value)) for value in range(256)]
    )
    kept = ImageChops.subtract(chroma, spilt).point([255, *([0] * 255)])
    return planes(ImageChops.darker(luma, kept))[0]


def depths(profile: Profile, page: Ycc) -> Depths:
    """Measure how deep a page colour reaches in each segment."""
    near = near_lines(profile, page)
    depth: list[float | None] = []
    contrast: list[float] = []
    last = profile.lines - 1
    for at in range(profile.count):
        if not near[0][at]:
            depth.append(None)
            contrast.append(0.0)
            continue
        line = 1
        while line < last and near[line][at]:
            line += 1
        if line >= last:
            depth.append(GROUND)
            contrast.append(0.0)
            continue
        art, mixed = at_line(profile, line + 1, at), at_line(profile, line, at)
        # The share of art in the mixed line, along the straight line from page to art.
        numerator = denominator = 0.0
        for weight, p, m, a in zip((1.0, 0.25, 0.25), page, mixed, art, strict=True):
            numerator += weight * (m - p) * (a - p)
            denominator += weight * (a - p) * (a - p)
        share = min(1.0, max(0.0, numerator / denominator)) if denominator else 1.0
        depth.append(line + 1.0 - share)
        contrast.append(distance(page, art))
    return Depths(depth, contrast, near)


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


def _common_depth(found: Depths) -> float | None:
    """Return the depth most segments agree on."""
    bins: dict[int, float] = {}
    for depth, contrast in zip(found.depth, found.contrast, strict=True):
        if depth is not None and contrast >= CONTRAST and depth <= DEEPEST:
            key = round(depth * 4)
            bins[key] = bins.get(key, 0.0) + min(1.0, contrast / 40)
    if not bins:
        return None
    best = max(bins, key=lambda key: sum(bins.get(key + step, 0.0) for step in (-1, 0, 1)))
    return median(
        depth
        for depth, contrast in zip(found.depth, found.contrast, strict=True)
        if depth is not None and contrast >= CONTRAST and abs(depth - best / 4) <= 0.4
    )


def _line_of_depths(found: Depths, segment: int, corner: int) -> tuple[float, float] | None:
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
            base = y1 - slope * x1
            if not FLATTEST <= abs(slope) / segment <= STEEPEST:
                continue
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
    spread = sum((x - mean_x) ** 2 for x, _ in agreed)
    if not spread:
        return None
    slope = sum((x - mean_x) * (y - mean_y) for x, y in agreed) / spread
    return mean_y - slope * mean_x, slope


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
    sharp, back = [], 0
    for depth, at in zip(reach, inside, strict=True):
        soon = distance(page, at_line(profile, depth + 1, at))
        later = distance(page, at_line(profile, depth + 3, at))
        sharp.append(soon / max(soon, later, 1.0))
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
        back=back / len(inside),
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


def whole_run(profile: Profile, page: Ycc) -> Run | None:
    """Return the stretch of the side where a page colour ends at one depth, or in a straight line."""
    found = depths(profile, page)
    if sum(map(found.tells, range(profile.count))) < STILL:
        return None
    best: tuple[float, Run] | None = None
    common = _common_depth(found)
    if common is not None:
        best = _run(profile, page, found, common, 0.0)
    corner = -(-CORNER // profile.segment)
    line = _line_of_depths(found, profile.segment, corner)
    if line is not None:
        turned = _run(profile, page, found, *line)
        # Turned art must explain clearly more than one depth does: its slack is wider. Less is enough
        # where one depth leaves page beside the run, as on the stairs of art turned unsmoothed.
        if turned and best and best[1].opens and not turned[1].opens:
            best = max(best, turned, key=lambda one: one[0])
        elif turned and (best is None or turned[0] > 1.12 * best[0] + 4):
            best = turned
    return best[1] if best else None


def whole_runs(profile: Profile) -> list[Run]:
    """Return the candidate gaps of a side, one for each page colour."""
    least = max(STILL, round(SHORTEST * profile.count))
    runs = [run for page in page_colors(profile) if (run := whole_run(profile, page))]
    return [run for run in runs if run.told >= least]


def rgb(ycc: Ycc) -> tuple[float, float, float]:
    """Return R, G, B (0..255) of luma and chroma."""
    y, b, r = ycc[0], ycc[1] - 128, ycc[2] - 128
    return y + 1.402 * r, y - 0.344136 * b - 0.714136 * r, y + 1.772 * b
