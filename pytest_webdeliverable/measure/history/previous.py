"""A picture beside its last committed version: whether the copy itself was saved again."""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256
from typing import TYPE_CHECKING, TypedDict

from pytest_webdeliverable.likeness import same_picture
from pytest_webdeliverable.measure.likeness import signature
from pytest_webdeliverable.measure.rows import strips

if TYPE_CHECKING:
    from PIL import Image

    from pytest_webdeliverable.likeness.signature import Signature
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


@dataclass(frozen=True, slots=True)
class Seen:
    """What is kept of a decoded picture, so that two large ones are never held at once.

    ``own`` and ``colors`` are checksums of its samples, as they are and as RGB.
    """

    size: tuple[int, int]
    mode: str
    own: bytes
    colors: bytes
    signature: Signature


def seen(picture: Image.Image) -> Seen:
    """Return what is compared of a loaded picture."""
    own, colors = sha256(), sha256()
    for strip in strips(picture):
        own.update(strip.tobytes())
        colors.update(strip.convert("RGB").tobytes())
    return Seen(picture.size, picture.mode, own.digest(), colors.digest(), signature(picture))


def previous_facts(
    picture: Image.Image | Seen, before: Image.Image | Seen, previous: Previous
) -> PreviousFacts:
    """Compare a loaded picture with its loaded previous version.

    Where only bytes beside the pixels changed (metadata, a profile, lossless packing), the pixels
    are the same and nothing was saved again.
    """
    now = picture if isinstance(picture, Seen) else seen(picture)
    then = before if isinstance(before, Seen) else seen(before)
    facts: PreviousFacts = {
        "commit": previous.commit,
        "date": previous.date,
        "resaved": False,
        "score": 0.0,
        "same-size": now.size == then.size,
        "same-pixels": False,
    }
    if not facts["same-size"]:
        return facts
    in_one_mode = now.mode == then.mode and now.mode != "P"
    facts["same-pixels"] = now.own == then.own if in_one_mode else now.colors == then.colors
    likeness = same_picture(now.signature, then.signature)
    facts["score"] = likeness["score"]
    facts["resaved"] = likeness["same"] and not facts["same-pixels"]
    return facts
