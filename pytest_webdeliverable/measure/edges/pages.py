"""Page colors: what keeps still along the outermost line and ends sharply inward."""

from __future__ import annotations

from statistics import median
from typing import TYPE_CHECKING, Final

from PIL import Image, ImageChops

from pytest_webdeliverable.measure.edges.color import distance, sharpness
from pytest_webdeliverable.measure.edges.profile import at_line, planes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pytest_webdeliverable.measure.edges.color import Ycc
    from pytest_webdeliverable.measure.edges.profile import Profile

NEAR_LUMA: Final = 6
"""Codes a page segment may be off in luma: quantisation at JPEG quality 75 leaves a
standard deviation of about 2 in the mean of a block's line."""
NEAR_CHROMA: Final = 9
"""The same in chroma, whose tables are coarser."""
SPILL: Final = 0.7
"""Share of the art's chroma that 4:2:0 may leave in the last page line: half, and what coarse tables add."""
BLOCK: Final = 8
"""Lines of a JPEG block (ITU-T T.81)."""
CHROMA_RINGING: Final = 0.14
"""Share of the art's chroma that ringing leaves within a block of it."""
CONTRAST: Final = 8.0
"""Codes of luma (chroma counts half) below which a segment cannot tell page from art."""
NEUTRAL: Final = 7
"""Codes of chroma about 128 that count as neutral."""
UNMIXED: Final = 3
"""Lines of page from which 4:2:0 leaves the outermost one its own chroma."""
STILL: Final = 3
"""Segments in a row that must show one color for it to be a page color."""
STEP: Final = 5
"""Codes by which lines two apart must differ somewhere for anything to end there."""
FEWEST_LINES: Final = 6
"""Lines needed to tell a gap from the art inside it."""
SHORTEST: Final = 0.045
"""Least length of a gap as a share of its side: 5 % less what segments round off."""
REACH: Final = 22
"""Lines within which a page color must end to be looked at: a wedge's deep end."""
WHITEST, BLACKEST = 253, 2
"""Codes of a channel from and up to which it may have been clipped, quantisation included."""
CLIPPED: Final = 1 / 0.564
"""Most luma lost to clipping per code of chroma (ITU-R BT.601)."""
LIGHT_PAGE, DARK_PAGE = 200, 55
"""Codes of luma from and up to which a page with foreign chroma can reach beyond white or black."""
SHARP: Final = 0.6
"""Least share of the contrast two lines further in that is there on the line after the page."""


def _own_reach(profile: Profile) -> list[int]:
    """Return how many lines each segment of the outermost line keeps its color inward (-1: all)."""
    means = profile.means
    first = means.crop((0, 0, means.width, 1)).resize(means.size, Image.Resampling.NEAREST)
    luma, chroma = _off(means, first)
    # 4:2:0 spreads a step of chroma over four lines: what is on the way to three lines further in is no end.
    foreign = ImageChops.subtract(chroma, _lifted(chroma, 3).point(SPILT)).point(ANY)
    away = ImageChops.lighter(
        ImageChops.subtract(luma, _clipped(means, first, chroma)).point(PAST_LUMA),
        ImageChops.darker(chroma.point(PAST_CHROMA), foreign),
    )
    columns = away.transpose(Image.Transpose.TRANSPOSE).tobytes()
    height = means.height
    limit = min(REACH, height - 3)
    ends = (
        (start, columns.find(1, start + 1, start + limit))
        for start in range(0, means.width * height, height)
    )
    return [end - start if end >= 0 else -1 for start, end in ends]


def _lifted(chroma: Image.Image, lines: int) -> Image.Image:
    """Return what lies some lines further in; 0 beyond the last line."""
    return chroma.crop((0, lines, chroma.width, chroma.height + lines))


def _off(means: Image.Image, goal: Image.Image) -> tuple[Image.Image, Image.Image]:
    """Return the codes by which luma and the stronger of both chromas differ between two pictures."""
    change = ImageChops.difference(means, goal)
    if len(change.getbands()) == 1:
        return change, Image.new("L", change.size)
    luma, blue, red = change.split()
    return luma, ImageChops.lighter(blue, red)


def _clipped(means: Image.Image, goal: Image.Image, chroma: Image.Image) -> Image.Image:
    """Return the codes of luma that a white or black page may lose where the art's chroma spills on it.

    A channel cannot go beyond white or black, so that a light page with foreign chroma gets darker, a
    dark one lighter: by 1 / 0.564 of the chroma at most (ITU-R BT.601: Cb = 0.564 (B - Y)).
    """
    luma = goal.getchannel(0)
    darkest, lightest = luma.getextrema()
    if DARK_PAGE < darkest <= lightest < LIGHT_PAGE:  # type: ignore[operator]
        return Image.new("L", means.size)
    red, green, blue = means.convert("RGB").split()
    highest = ImageChops.lighter(ImageChops.lighter(red, green), blue).point(AT_WHITE)
    lowest = ImageChops.darker(ImageChops.darker(red, green), blue).point(AT_BLACK)
    touched = ImageChops.lighter(
        ImageChops.darker(highest, luma.point(LIGHT)), ImageChops.darker(lowest, luma.point(DARK))
    )
    return ImageChops.darker(chroma.point(LOST), touched)


def _sharp_ends(profile: Profile, page: Ycc, reach: Sequence[int], first: int) -> int:
    """Return in how many segments of a still stretch the color ends sharply, at common depths.

    A quick look that spares skies and blurred grounds the long one: 0 if nothing speaks for a gap.
    """
    ends: dict[int, int] = {}
    before, steady = -9, 0
    for at, line in enumerate(reach, first):
        if line < 0:
            continue
        soon = at_line(profile, line + 1, at)
        if (
            distance(page, soon) >= CONTRAST
            and sharpness(page, soon, at_line(profile, line + 3, at)) >= SHARP
        ):
            ends[line] = ends.get(line, 0) + 1
            steady += abs(line - before) <= 1
            before = line
    if not ends:
        return 0
    most = max(count + ends.get(line + 1, 0) for line, count in ends.items())
    total = sum(ends.values())
    return total if most >= 2 and max(most / 0.3, steady / 0.6) >= total else 0


def _stirred(profile: Profile) -> bytes:
    """Return which segments have a step between nearby lines at all (not 0)."""
    means = profile.means
    height = profile.lines - 2
    change = ImageChops.difference(
        means.crop((0, 0, means.width, height)), means.crop((0, 2, means.width, height + 2))
    )
    if len(change.getbands()) == 3:
        luma, blue, red = change.split()
        chroma = ImageChops.lighter(blue, red).point([value // 2 for value in range(256)])
        change = ImageChops.lighter(luma, chroma)
    # The greatest change of all lines, gathered in line 0 by halves.
    reach = 1
    while reach < height:
        shifted = change.crop((0, reach, change.width, reach + height))
        change = ImageChops.lighter(change, shifted)
        reach *= 2
    first = change.crop((0, 0, change.width, 1))
    return first.point([int(value >= STEP) for value in range(256)]).tobytes()


def _own_chroma(
    profile: Profile, first: int, last: int, reach: Sequence[int]
) -> tuple[float, float]:
    """Return the page's chroma on a stretch: neutral where 4:2:0 explains that it is not.

    With 4:2:0 a single page line shows half of its own chroma and half of the art's; the outermost of
    UNMIXED lines and more shows its own. ``reach`` is how many lines each segment keeps its color.
    """
    outer = median(profile.blue[0][first:last]), median(profile.red[0][first:last])
    art = median(profile.blue[3][first:last]), median(profile.red[3][first:last])
    pairs = list(zip(outer, art, strict=True))
    ends = [lines for lines in reach if lines > 0]
    if ends and median(ends) >= UNMIXED:
        return outer
    if max(abs(own - 128) for own in outer) > NEUTRAL and all(
        abs(2 * own - beside - 128) <= NEUTRAL for own, beside in pairs
    ):
        return 128.0, 128.0
    return outer


def page_colors(profile: Profile) -> list[Ycc]:
    """Return colors that keep still on a stretch of the outermost line and end sharply inward.

    The one with the most sharp ends comes first.
    """
    luma, blue, red = profile.luma[0], profile.blue[0], profile.red[0]
    found: list[tuple[Ycc, int]] = []
    at, count = 0, profile.count
    if profile.lines < FEWEST_LINES:
        return []
    stirred = _stirred(profile)
    if sum(stirred) < 2:
        return []
    reach = _own_reach(profile)
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
        if end - at >= STILL and sum(stirred[at:end]) >= 2 and max(reach[at:end]) > 0:
            page = median(luma[at:end]), *_own_chroma(profile, at, end, reach[at:end])
            if ends := _sharp_ends(profile, page, reach[at:end], at):
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
    least = 0.6 * SHORTEST * count
    return [page for ends, page in weighed[:4] if ends >= least]


SPILT: Final = tuple(max(NEAR_CHROMA, int(SPILL * value)) for value in range(256))
RINGS: Final = tuple(int(CHROMA_RINGING * value) for value in range(256))
PAST_LUMA: Final = tuple(int(value > NEAR_LUMA) for value in range(256))
PAST_CHROMA: Final = tuple(int(value > 2 * NEAR_CHROMA) for value in range(256))
ANY: Final = (0, *(1,) * 255)
AT_WHITE: Final = tuple(255 * (value >= WHITEST) for value in range(256))
AT_BLACK: Final = tuple(255 * (value <= BLACKEST) for value in range(256))
LIGHT: Final = tuple(255 * (value >= LIGHT_PAGE) for value in range(256))
DARK: Final = tuple(255 * (value <= DARK_PAGE) for value in range(256))
LOST: Final = tuple(min(255, int(CLIPPED * value)) for value in range(256))
NONE: Final = (255, *(0,) * 255)
OFFS: Final = tuple(abs(off) for off in range(-255, 256))
"""A table of distance, of which a page color's own 256 entries are a slice."""
NEARS: Final = tuple(255 * (value <= NEAR_LUMA) for value in range(256))


def _slice(table: tuple[int, ...], center: float) -> tuple[int, ...]:
    start = 255 - round(center)
    return table[start : start + 256]


def near_lines(profile: Profile, page: Ycc) -> list[bytes]:
    """Return, line by line, which segments show the page color (not 0)."""
    means = profile.means
    if len(means.getbands()) == 1:
        return planes(means.point(_slice(OFFS, page[0])).point(NEARS))[0]
    luma, blue, red = means.split()
    chroma = ImageChops.lighter(blue.point(_slice(OFFS, page[1])), red.point(_slice(OFFS, page[2])))
    luma = luma.point(_slice(OFFS, page[0]))
    if not DARK_PAGE < page[0] < LIGHT_PAGE:
        goal = Image.new("L", means.size, round(page[0]))
        luma = ImageChops.subtract(luma, _clipped(means, goal, chroma))
    luma = luma.point(NEARS)
    # What 4:2:0 spills of the art's chroma: a share of the chroma three lines further in.
    spilt = _lifted(chroma, 3).point(SPILT)
    # Within one block of a JPEG chroma rings as well, by a share of its change.
    ringing = _lifted(chroma, BLOCK).point(RINGS)
    spilt = ImageChops.lighter(spilt, ringing)
    kept = ImageChops.subtract(chroma, spilt).point(NONE)
    return planes(ImageChops.darker(luma, kept))[0]
