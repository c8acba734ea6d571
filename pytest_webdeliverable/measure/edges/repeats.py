"""Whether the picture explains a run by itself.

Stripes, dots and checks come back further in; the border of a panel ends where the panel does. Only a run that would otherwise count is looked at this deep.
"""

from __future__ import annotations

from statistics import median
from typing import TYPE_CHECKING, Final

from PIL import Image

from pytest_webdeliverable.measure.edges.color import distance
from pytest_webdeliverable.measure.edges.pages import NEAR_LUMA, near_lines
from pytest_webdeliverable.measure.edges.profile import LINES, Profile, at_line, profile

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.edges.color import Ycc
    from pytest_webdeliverable.measure.edges.whole import Run

DEEP: Final = 160
"""Lines looked at: two periods of stripes as wide as a large type's stem."""
ALIGNED: Final = 0.7
"""Share of a run's segments in which the color comes back at one depth."""
END: Final = 3
"""Segments from a side's end within which a run counts as reaching it."""
BETWEEN: Final = 0.12
"""Share of ground between shapes from which they may be letters or drawings on it."""
SMALL: Final = 0.85
"""Share of their segments in which the ground comes back below them, at any depth."""
AROUND: Final = 14
"""px on both sides of a run's end in which a frame's corner is looked for."""
UPRIGHT: Final = 9
"""px inward that its line must run."""
UPRIGHT_OFF: Final = 16
"""Codes of luma it may be off."""
CHANGE: Final = 12.0
"""Codes between the art on both sides of a run's end that count as a change."""
SIDE_LEFT: Final = 0.1
"""Least share of a side beside a run that tells whether stripes run on there."""
SLACK: Final = 2
"""px that those depths may differ."""


def follows_art(profile: Profile, first: int, last: int, line: int, page: Ycc) -> bool:
    """Return whether a run ends, at each end that is not the side's, where the art inside it changes.

    The border of a panel or shape does; a gap's end has nothing to do with the art.
    """
    last_line = min(line, profile.lines - 1)
    ends = [(first, first - 1)] if first > END else []
    ends += [(last - 1, last)] if last < profile.count - END else []
    return bool(ends) and all(_changes(profile, last_line, *end, page[0]) for end in ends)


def turns_inward(profile: Profile, first: int, last: int, depth: int, page: Ycc) -> bool:
    """Return whether, at an end of a run, its color goes on inward as a line: a frame's corner."""
    ends = [first] if first > END else []
    ends += [last] if last < profile.count - END else []
    return any(_upright(profile, end * profile.segment, depth, page) for end in ends)


def _upright(profile: Profile, place: int, depth: int, page: Ycc) -> bool:
    low, high = max(0, place - AROUND), min(profile.length, place + AROUND)
    bottom = min(profile.lines, depth + 1 + UPRIGHT)
    box = profile.pixels.crop((low, depth + 1, high, bottom)).convert("L")
    if box.height < UPRIGHT:
        return False
    near = box.point([255 * (abs(code - page[0]) <= UPRIGHT_OFF) for code in range(256)])
    columns = near.resize((near.width, 1), Image.Resampling.BOX).tobytes()
    # A whole column is; where everything is like the page there is no line to see.
    return max(columns) == 255 and sum(columns) <= 0.4 * 255 * len(columns)


def _changes(profile: Profile, line: int, inside: int, outside: int, luma: float) -> bool:
    step = 1 if outside > inside else -1
    within = at_line(profile, line, inside - 2 * step)
    place = outside + step  # an end that is not the side's has END segments beyond it
    beyond = at_line(profile, line, place)
    if abs(profile.luma[0][place] - luma) <= NEAR_LUMA + 2:
        return False  # the page goes on, unseen against art of its own color
    # Where the outermost line differs from the art beyond the end as well, the gap goes on.
    goes_on = distance(at_line(profile, 0, place), beyond) >= CHANGE
    return not goes_on and distance(within, beyond) >= CHANGE


def repeats(picture: Image.Image, lines: Profile, run: Run) -> bool:
    """Return whether the page color comes back, along a line parallel to the side, further in."""
    deep = profile(picture, lines.side, lines=min(DEEP, min(picture.size) // 2))
    if deep.lines <= LINES:
        return False
    near = near_lines(deep, run.page)
    start = int(run.depth) + 2
    returns: list[int] = []
    looked = 0
    for at in range(run.first, run.last):
        if not near[0][at] or near[start][at]:
            continue
        looked += 1
        line = next((line for line in range(start + 1, deep.lines) if near[line][at]), None)
        if line is not None:
            returns.append(line)
    if not returns:
        return False
    if run.ground >= BETWEEN and len(returns) >= SMALL * looked:
        return True
    middle = median(returns)
    if sum(abs(line - middle) <= SLACK for line in returns) < ALIGNED * looked:
        return False
    # A stripe that runs on where the run has ended does not explain why it ended.
    beyond = [
        at for at in range(deep.count) if not run.first - 1 <= at <= run.last and not near[0][at]
    ]
    on = sum(any(near[line][at] for line in _about(middle, deep)) for at in beyond)
    return len(beyond) < SIDE_LEFT * deep.count or on < ALIGNED * len(beyond)


def _about(line: float, deep: Profile) -> range:
    """Return the lines within SLACK of one."""
    return range(int(line) - SLACK, min(deep.lines, int(line) + SLACK + 1))
