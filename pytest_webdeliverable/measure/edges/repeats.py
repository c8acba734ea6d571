"""Does the picture explain a run by itself? Stripes, dots and checks come back further in.

Only a run that would otherwise count is looked at this deep.
"""

from __future__ import annotations

from statistics import median
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.edges.pages import near_lines
from pytest_webdeliverable.measure.edges.profile import LINES, Profile, profile

if TYPE_CHECKING:
    from PIL import Image

    from pytest_webdeliverable.measure.edges.whole import Run

DEEP: Final = 160
"""Lines looked at: two periods of stripes as wide as a large type's stem."""
ALIGNED: Final = 0.7
"""Share of a run's segments in which the colour comes back at one depth."""
SLACK: Final = 2
"""px that those depths may differ."""


def repeats(picture: Image.Image, lines: Profile, run: Run) -> bool:
    """Return whether the page colour comes back, along a line parallel to the side, further in."""
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
    middle = median(returns)
    return sum(abs(line - middle) <= SLACK for line in returns) >= ALIGNED * looked
