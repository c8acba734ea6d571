"""Page colours: what keeps still along the outermost line and ends sharply inward."""

from __future__ import annotations

from statistics import median
from typing import TYPE_CHECKING, Final

from PIL import ImageChops

from pytest_webdeliverable.measure.edges.color import distance, sharpness
from pytest_webdeliverable.measure.edges.profile import at_line, planes

if TYPE_CHECKING:
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
STILL: Final = 3
"""Segments in a row that must show one colour for it to be a page colour."""
STEP: Final = 5
"""Codes by which lines two apart must differ somewhere for anything to end there."""
FEWEST_LINES: Final = 6
"""Lines needed to tell a gap from the art inside it."""
SHORTEST: Final = 0.045
"""Least length of a gap as a share of its side: 5 % less what segments round off."""
REACH: Final = 22
"""Lines within which a page colour must end to be looked at: a wedge's deep end."""
SHARP: Final = 0.6
"""Least share of the contrast two lines further in that is there on the line after the page."""


def _sharp_ends(profile: Profile, page: Ycc, first: int, last: int) -> int:
    """Return in how many segments of a still stretch the colour ends sharply, at common depths.

    A quick look that spares skies and blurred grounds the long one: 0 if nothing speaks for a gap.
    """
    limit = min(REACH, profile.lines - 3)
    ends: dict[int, int] = {}
    before, steady = -9, 0
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


def _own_chroma(profile: Profile, first: int, last: int) -> tuple[float, float]:
    """Return the page's chroma on a stretch: neutral where 4:2:0 explains that it is not.

    With 4:2:0 a single page line shows half of its own chroma and half of the art's.
    """
    outer = median(profile.blue[0][first:last]), median(profile.red[0][first:last])
    art = median(profile.blue[3][first:last]), median(profile.red[3][first:last])
    pairs = list(zip(outer, art, strict=True))
    if max(abs(own - 128) for own in outer) > NEUTRAL and all(
        abs(2 * own - beside - 128) <= NEUTRAL for own, beside in pairs
    ):
        return 128.0, 128.0
    return outer


def page_colors(profile: Profile) -> list[Ycc]:
    """Return colours that keep still on a stretch of the outermost line and end sharply inward.

    The one with the most sharp ends comes first.
    """
    luma, blue, red = profile.luma[0], profile.blue[0], profile.red[0]
    found: list[tuple[Ycc, int]] = []
    at, count = 0, profile.count
    if profile.lines < FEWEST_LINES:
        return []
    stirred = _stirred(profile)
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
        if end - at >= STILL and sum(stirred[at:end]) >= 2:
            page = median(luma[at:end]), *_own_chroma(profile, at, end)
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


SPILT: Final = tuple(max(NEAR_CHROMA, int(SPILL * value)) for value in range(256))
RINGS: Final = tuple(int(CHROMA_RINGING * value) for value in range(256))
NONE: Final = (255, *(0,) * 255)
OFFS: Final = tuple(abs(off) for off in range(-255, 256))
NEARS: Final = tuple(255 * (abs(off) <= NEAR_LUMA) for off in range(-255, 256))
"""Tables of distance and of nearness, of which a page colour's own 256 entries are a slice."""


def _slice(table: tuple[int, ...], center: float) -> tuple[int, ...]:
    start = 255 - round(center)
    return table[start : start + 256]


def near_lines(profile: Profile, page: Ycc) -> list[bytes]:
    """Return, line by line, which segments show the page colour (not 0)."""
    if len(profile.means.getbands()) == 1:
        return planes(profile.means.point(_slice(NEARS, page[0])))[0]
    luma, blue, red = profile.means.split()
    luma = luma.point(_slice(NEARS, page[0]))
    chroma = ImageChops.lighter(blue.point(_slice(OFFS, page[1])), red.point(_slice(OFFS, page[2])))
    # What 4:2:0 spills of the art's chroma: a share of the chroma three lines further in.
    spilt = chroma.crop((0, 3, chroma.width, chroma.height + 3)).point(SPILT)
    # Within one block of a JPEG chroma rings as well, by a share of its change.
    ringing = chroma.crop((0, BLOCK, chroma.width, chroma.height + BLOCK)).point(RINGS)
    spilt = ImageChops.lighter(spilt, ringing)
    kept = ImageChops.subtract(chroma, spilt).point(NONE)
    return planes(ImageChops.darker(luma, kept))[0]
