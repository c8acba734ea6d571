"""What a picture's pixels tell of its past: saved again, cut out of a JPEG, enlarged.

All three are statistics: they advise, and each says so where the picture has too little detail.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, TypedDict

from pytest_webdeliverable.measure.history import cropped as _cropped
from pytest_webdeliverable.measure.history import enlarged as _enlarged
from pytest_webdeliverable.measure.history import resaved as _resaved
from pytest_webdeliverable.measure.history.cropped import Cropped
from pytest_webdeliverable.measure.history.enlarged import Enlarged
from pytest_webdeliverable.measure.history.mosaic import choose_squares, luma
from pytest_webdeliverable.measure.history.resaved import Resaved

if TYPE_CHECKING:
    from PIL import Image

__all__ = ["Cropped", "Enlarged", "HistoryFacts", "Resaved", "history_facts"]

MOST_SIDE: Final = 2048
"""Side of the part that is looked at, px: as telling as more, and bounded in time and memory."""
GRID: Final = 16
"""JPEG macroblocks with 4:2:0 chroma, px (ITU-T T.81)."""
REPEATS: Final = "the art repeats every few pixels, as halftone dots do, and hides the past"
PLAIN: Final = "the picture is too small or too plain to show its past"


BLOCKS: Final[dict[str, _enlarged.Blocks]] = {
    "jpeg": "own",
    "png": "none",
    "gif": "none",
    "tiff": "none",
}
"""How a format's pixels come in blocks; WebP and AVIF have blocks of several sizes."""

REGULAR_CODING: Final = frozenset({"webp", "avif"})
"""Formats whose coding of blocks of many sizes makes rhythms of its own: 4 of 36 untouched pictures
looked enlarged."""
CODED: Final = "the format's own coding leaves rhythms like those of enlarging"


class HistoryFacts(TypedDict):
    """What was found out about a picture's past."""

    resaved: Resaved
    cropped: Cropped
    enlarged: Enlarged


def history_facts(
    picture: Image.Image,
    *,
    format: str,  # noqa: A002 - the trade's and Pillow's word
    quality: float | None,
) -> HistoryFacts:
    """Measure a loaded picture's past.

    ``format`` is the file's (``"jpeg"``, ``"png"``, ...), ``quality`` the JPEG quality its tables
    state, 1..100, None where unknown. The answer is the same for the same pixels.
    """
    gray = luma(_middle(picture))
    side, corners = choose_squares(gray)
    if not corners:
        return _undecided(PLAIN)
    if format != "jpeg" or quality is None:
        again = _resaved.undecided("only a JPEG of known quality shows an earlier quality")
    else:
        again = _resaved.resaved(gray, side, corners, quality)
    cut = _cropped.cropped(gray, side, corners)
    # an earlier block grid makes a rhythm that looks like enlarging
    blocks = "other" if again["found"] or cut["found"] else BLOCKS.get(format, "other")
    if format in REGULAR_CODING:
        larger = _enlarged.undecided(CODED)
    else:
        larger = _enlarged.enlarged(
            gray, blocks=blocks, quality=None if quality is None else round(quality)
        )
    if (again["found"] or cut["found"] or larger["found"]) and _enlarged.art_repeats(gray):
        return _undecided(REPEATS)
    return {"resaved": again, "cropped": cut, "enlarged": larger}


def _middle(picture: Image.Image) -> Image.Image:
    """Give the middle of a large picture, cut on the 16-pixel grid so that blocks keep their place."""
    x, y = (max(0, (side - MOST_SIDE) // 2) // GRID * GRID for side in picture.size)
    if not x and not y:
        return picture
    right, bottom = min(picture.width, x + MOST_SIDE), min(picture.height, y + MOST_SIDE)
    return picture.crop((x, y, right, bottom))


def _undecided(reason: str) -> HistoryFacts:
    return {
        "resaved": _resaved.undecided(reason),
        "cropped": _cropped.undecided(reason),
        "enlarged": _enlarged.undecided(reason),
    }
