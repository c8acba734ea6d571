"""Web copies: size from the trim, an sRGB profile with fixed bytes, plain JPEG files."""

from __future__ import annotations

import io
import math
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from PIL import Image, ImageCms

if TYPE_CHECKING:
    from pathlib import Path

BOX: Final = (1600, 1200)  # px, the built-in spec "screen"
QUALITY: Final = 93  # JPEG quality, above the 90 that "screen" asks for
PPI: Final = 72

# ICC.1:2022 section 7.2: creation date and time at bytes 24..35, profile ID at 84..99.
DATE_AT: Final = slice(24, 36)
ID_AT: Final = slice(84, 100)
DATE_2020: Final = bytes((0x07, 0xE4, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0))


def srgb_profile() -> bytes:
    """Return an sRGB profile that has the same bytes on every day."""
    data = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    data[DATE_AT] = DATE_2020
    data[ID_AT] = bytes(16)  # all zero: not computed
    return bytes(data)


def fit(width: float | str, height: float | str, box: tuple[int, int] = BOX) -> tuple[int, int]:
    """Pixels of a W x H trim fitted into the box, rounded to the nearest."""
    w, h = Fraction(width), Fraction(height)
    scale = min(box[0] / w, box[1] / h)
    return math.floor(w * scale + Fraction(1, 2)), math.floor(h * scale + Fraction(1, 2))


def jpeg(picture: Image.Image, **changes: object) -> bytes:
    """Encode as the spec asks; keyword arguments change single settings of the encoder."""
    settings: dict[str, object] = {
        "quality": QUALITY,
        "subsampling": 0,
        "dpi": (PPI, PPI),
        "icc_profile": srgb_profile(),
        "optimize": True,
    }
    settings.update(changes)
    target = io.BytesIO()
    picture.save(target, "JPEG", **{k: v for k, v in settings.items() if v is not None})
    return target.getvalue()


def tiff(picture: Image.Image, ppi: int) -> bytes:
    """Encode without loss, as print originals are kept."""
    target = io.BytesIO()
    picture.save(
        target,
        "TIFF",
        dpi=(ppi, ppi),
        compression="tiff_adobe_deflate",
        icc_profile=srgb_profile(),
    )
    return target.getvalue()


def write(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)


def reduced(picture: Image.Image, box: tuple[int, int]) -> Image.Image:
    """Return the whole picture within a box."""
    scale = min(box[0] / picture.width, box[1] / picture.height)
    size = (round(picture.width * scale), round(picture.height * scale))
    return picture.resize(size, Image.Resampling.LANCZOS)


def cropped(picture: Image.Image, size: tuple[int, int]) -> Image.Image:
    """Return the middle of the picture at exactly this size."""
    scale = max(size[0] / picture.width, size[1] / picture.height)
    w, h = size[0] / scale, size[1] / scale
    left, top = (picture.width - w) / 2, (picture.height - h) / 2
    return picture.resize(size, Image.Resampling.LANCZOS, box=(left, top, left + w, top + h))
