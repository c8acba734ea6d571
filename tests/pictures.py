"""Pictures drawn for tests, small, and sound unless a test asks for a fault."""

from __future__ import annotations

import io
from functools import cache
from typing import TYPE_CHECKING, Any

from PIL import Image, ImageCms

if TYPE_CHECKING:
    from pathlib import Path


@cache
def srgb() -> bytes:
    """An sRGB profile, made by LittleCMS."""
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def art(width: int = 160, height: int = 120, seed: int = 3) -> Image.Image:
    """Art that runs to all edges: large soft shapes with some grain, nothing flat or straight."""
    grain = Image.effect_noise((width, height), 18)
    shapes = Image.effect_mandelbrot((width, height), (-1.2 - seed / 50, -1.1, 0.7, 1.0), 40)
    soft = Image.radial_gradient("L").resize((width, height), Image.Resampling.BICUBIC)
    return Image.merge(
        "RGB", (Image.blend(shapes, grain, 0.4), Image.blend(soft, grain, 0.3), grain)
    )


def encoded(picture: Image.Image, kind: str = "JPEG", **options: Any) -> bytes:
    """Bytes of a sound web copy; options override or, as None, leave out."""
    chosen: dict[str, Any] = {"dpi": (72, 72), "icc_profile": srgb()}
    if kind == "JPEG":
        chosen |= {"quality": 95, "subsampling": 0}
    chosen |= options
    buffer = io.BytesIO()
    picture.save(
        buffer, kind, **{name: value for name, value in chosen.items() if value is not None}
    )
    return buffer.getvalue()


def save(
    path: Path, picture: Image.Image | None = None, kind: str = "JPEG", **options: Any
) -> Path:
    """Write a sound web copy to a path."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(encoded(picture or art(), kind, **options))
    return path
