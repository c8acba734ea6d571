"""Decode one picture to its last pixel, or say in one sentence why that cannot be done.

What a decode may cost is decided from the header, before a pixel is touched; then Pillow decodes
only the format that the header found, and whatever it raises becomes a sentence.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from PIL import Image

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.headers.base import Header

PLUGINS: Final = {
    "jpeg": "JPEG",
    "png": "PNG",
    "webp": "WEBP",
    "avif": "AVIF",
    "gif": "GIF",
    "tiff": "TIFF",
}
"""Pillow's names; multi-picture JPEG (MPO) is reached through its JPEG."""
_TURNS: Final = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
"""Exif 3.0, tag 0x0112: what shows the picture upright."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decoded:
    """The first picture of a file, as stored (not turned), or the reason why there is none.

    ``problem`` is a sentence for a designer; ``detail`` what the decoder said, made safe to print.
    """

    picture: Image.Image | None = None
    problem: str | None = None
    detail: str | None = None


def apply_orientation(picture: Image.Image, flag: int | None) -> Image.Image:
    """Turn a stored picture as its Exif orientation flag says; unknown flags leave it as it is."""
    turn = _TURNS.get(flag or 1)
    return picture if turn is None else picture.transpose(turn)


def too_costly(header: Header, limits: Limits) -> str | None:
    """Return why a picture is not decoded, None where it may be."""
    pixels = header.width * header.height
    if pixels > limits.pixels:
        return (
            f"The picture has {header.width} x {header.height} pixels,"
            f" {pixels / 1e6:.0f} megapixels; at most {limits.pixels / 1e6:.0f} are decoded."
        )
    return None


def decode(data: bytes, header: Header, limits: Limits = DEFAULT_LIMITS) -> Decoded:
    """Decode the first picture of ``data``, whose header was read before.

    Never raises; safe to call from several threads.
    """
    problem = too_costly(header, limits)
    if problem is not None:
        return Decoded(problem=problem)
    try:
        with Image.open(io.BytesIO(data), formats=[PLUGINS[header.format]]) as opened:
            if opened.size != (header.width, header.height):
                return Decoded(
                    problem="The file states two different sizes for its picture; export it again."
                )
            opened.load()
            return Decoded(picture=opened)
    except MemoryError:
        return Decoded(problem="The picture needs more memory than there is to decode it.")
    except Exception as error:  # decoders raise anything, even warnings as errors
        return Decoded(
            problem="The picture cannot be decoded to its end: the file is damaged or cut short."
            " Export it again from the original.",
            detail=display_name(f"{type(error).__name__}: {error}"),
        )
