"""How still a color is: the grain and drift of page lines, and bands of one color in the art."""

from __future__ import annotations

from bisect import bisect_left
from itertools import accumulate
from statistics import median
from typing import TYPE_CHECKING, Final

from PIL import ImageChops

from pytest_webdeliverable.measure.edges.pages import DARK_PAGE, LIGHT_PAGE, NEAR_LUMA

if TYPE_CHECKING:
    from PIL import Image

    from pytest_webdeliverable.measure.edges.color import Ycc
    from pytest_webdeliverable.measure.edges.profile import Profile

GRAINY: Final = 0.8
"""Share of pixels that tells how still the page lines are: the rest may be cut by something."""
BANDS: Final = 8
"""Lines inside a gap in which such a line counts: further in it is the art's own business."""
BAND_STEP: Final = 6
"""Codes of luma between two lines, both still along the run, that make a line of the art's own."""
BAND_SHARE: Final = 0.2
"""Least step of such a line as a share of the contrast between page and art."""


def grain_and_drift(lines: Image.Image, page: Ycc, left: int, right: int) -> tuple[float, float]:
    """Return the codes within which the pixels of page lines lie, and those they change by along them.

    ``lines`` is the outermost lines of a run, ``left`` and ``right`` the px between which they are all
    page. Where foreign chroma is spilt on white or black, the channel at its limit keeps still instead
    of luma.
    """
    views = [lines.convert("L")]
    if lines.mode == "RGB" and not DARK_PAGE < page[0] < LIGHT_PAGE:
        views.append(_outermost_channel(lines, light=page[0] >= LIGHT_PAGE))
    third = max(1, (right - left) // 3)
    drifts = [
        _mean(view, left, left + third) - _mean(view, right - third, right)
        for view in views
        if right > left
    ]
    grain = min(_spread_about(view, _middle(view)) for view in views)
    return grain, min(drifts, key=abs, default=0.0)


def _spread_about(lines: Image.Image, middle: int) -> float:
    """Return the codes within which GRAINY of the pixels lie about a luma."""
    off = [0] * 256
    for value, count in enumerate(lines.histogram()):
        off[abs(value - middle)] += count
    beyond = list(accumulate(reversed(off)))
    return 255.0 - bisect_left(beyond, (1 - GRAINY) * beyond[-1])


def _outermost_channel(lines: Image.Image, *, light: bool) -> Image.Image:
    """Return the lightest channel of each pixel, or the darkest."""
    red, green, blue = lines.split()
    pick = ImageChops.lighter if light else ImageChops.darker
    return pick(pick(red, green), blue)


def _mean(lines: Image.Image, left: int, right: int) -> float:
    """Return the mean value of the columns from left to right."""
    counts = lines.crop((left, 0, right, 1)).histogram()
    return sum(value * count for value, count in enumerate(counts)) / sum(counts)


def _middle(lines: Image.Image) -> int:
    """Return the median value of the pixels."""
    return bisect_left(list(accumulate(lines.histogram())), lines.width * lines.height / 2)


def banded(profile: Profile, inside: list[int], start: int, contrast: float) -> bool:
    """Return whether the art inside a run is made of bands parallel to the side.

    ``contrast`` is how many codes the run itself stands out from the art: bands must be of its kind.
    """
    level = None
    least = max(BAND_STEP, BAND_SHARE * contrast)
    for line in range(start, min(profile.lines, start + BANDS)):
        row = [profile.luma[line][at] for at in inside]
        middle = median(row)
        still = sum(abs(value - middle) <= NEAR_LUMA for value in row) >= 0.85 * len(row)
        if still and level is not None and abs(middle - level) >= least:
            return True
        level = middle if still else None
    return False
