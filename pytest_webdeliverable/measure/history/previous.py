"""A picture beside its last committed version: whether the copy itself was saved again."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict

from PIL import ImageChops

from pytest_webdeliverable.likeness import same_picture
from pytest_webdeliverable.measure.likeness import signature

if TYPE_CHECKING:
    from PIL import Image

    from pytest_webdeliverable.measure.gitlog import Previous


class PreviousFacts(TypedDict("Names", {"same-size": bool, "same-pixels": bool})):
    """The file's last committed version that holds other bytes.

    ``resaved``: the same size and nearly the same picture, yet not the same pixels. ``score`` is
    that of the comparison (1 = no visible difference); ``date`` is ISO 8601, UTC.
    """

    commit: str
    date: str
    resaved: bool
    score: float


def previous_facts(picture: Image.Image, before: Image.Image, previous: Previous) -> PreviousFacts:
    """Compare a loaded picture with its loaded previous version.

    Where only bytes beside the pixels changed (metadata, a profile, lossless packing), the pixels
    are the same and nothing was saved again.
    """
    facts: PreviousFacts = {
        "commit": previous.commit,
        "date": previous.date,
        "resaved": False,
        "score": 0.0,
        "same-size": picture.size == before.size,
        "same-pixels": False,
    }
    if not facts["same-size"]:
        return facts
    facts["same-pixels"] = _same_pixels(picture, before)
    likeness = same_picture(signature(picture), signature(before))
    facts["score"] = likeness["score"]
    facts["resaved"] = likeness["same"] and not facts["same-pixels"]
    return facts


def _same_pixels(one: Image.Image, other: Image.Image) -> bool:
    if one.mode == other.mode and one.mode != "P":
        return one.tobytes() == other.tobytes()
    return ImageChops.difference(one.convert("RGB"), other.convert("RGB")).getbbox() is None
