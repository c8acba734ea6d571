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

PLAIN: Final = "the picture is too small or too plain to show its past"


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
    data: bytes | None = None,  # noqa: ARG001
) -> HistoryFacts:
    """Measure a loaded picture's past.

    ``format`` is the file's (``"jpeg"``, ``"png"``, ...), ``quality`` the JPEG quality its tables
    state, 1..100, None where unknown. The answer is the same for the same pixels.
    """
    gray = luma(picture)
    side, corners = choose_squares(gray)
    if not corners:
        return {
            "resaved": _resaved.undecided(PLAIN),
            "cropped": _cropped.undecided(PLAIN),
            "enlarged": _enlarged.undecided(PLAIN),
        }
    if format != "jpeg" or quality is None:
        again = _resaved.undecided("only a JPEG of known quality shows an earlier quality")
    else:
        again = _resaved.resaved(gray, side, corners, quality)
    return {
        "resaved": again,
        "cropped": _cropped.cropped(gray, side, corners),
        "enlarged": _enlarged.enlarged(
            gray, format=format, quality=None if quality is None else round(quality)
        ),
    }
