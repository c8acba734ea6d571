"""Pictures drawn for tests of rules: small, and sound unless a test asks for a fault."""

from __future__ import annotations

import io
from functools import cache
from typing import Any, Final

from PIL import Image, ImageCms

QUALITY: Final = 95
"""JPEG quality of a sound copy; any from 90 on would do (common practice, no source)."""
PPI: Final = 72
"""Density of a sound copy (common practice, no source)."""


@cache
def srgb() -> bytes:
    """Return an sRGB profile, made by LittleCMS."""
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def draw(width: int = 160, height: int = 120, seed: int = 3) -> Image.Image:
    """Draw art that runs to all edges: large soft shapes with some grain, nothing flat or straight.

    Sizes are in px. Another ``seed`` gives other shapes; the grain is new in every call.
    """
    grain = Image.effect_noise((width, height), 18)
    shapes = Image.effect_mandelbrot((width, height), (-1.2 - seed / 50, -1.1, 0.7, 1.0), 40)
    soft = Image.radial_gradient("L").resize((width, height), Image.Resampling.BICUBIC)
    return Image.merge(
        "RGB", (Image.blend(shapes, grain, 0.4), Image.blend(soft, grain, 0.3), grain)
    )


def encode(picture: Image.Image, kind: str = "JPEG", **options: Any) -> bytes:
    """Return the bytes of a sound web copy; options of Pillow override or, as None, leave out."""
    chosen: dict[str, Any] = {"dpi": (PPI, PPI), "icc_profile": srgb()}
    if kind == "JPEG":
        chosen |= {"quality": QUALITY, "subsampling": 0}
    chosen |= options
    buffer = io.BytesIO()
    picture.save(
        buffer, kind, **{name: value for name, value in chosen.items() if value is not None}
    )
    return buffer.getvalue()
