"""Border strips: a few lines along each side, turned so that all four sides look alike.

A strip's first line is the outermost line of its side; its lines run left to right or top to
bottom. Only strips are converted to a common mode, never the whole picture.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from PIL import Image

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.edges.types import Side

HIGH_BYTES: Final = 256
"""Steps of a 16-bit code per step of an 8-bit one."""


def _box(size: tuple[int, int], side: Side, lines: int) -> tuple[int, int, int, int]:
    width, height = size
    if side == "left":
        return 0, 0, min(lines, width), height
    if side == "right":
        return max(0, width - lines), 0, width, height
    if side == "top":
        return 0, 0, width, min(lines, height)
    return 0, max(0, height - lines), width, height


def side_length(size: tuple[int, int], side: Side) -> int:
    """Return the px along a side."""
    return size[1] if side in {"left", "right"} else size[0]


def has_alpha(picture: Image.Image) -> bool:
    """Return whether any pixel could be transparent."""
    return bool(picture.has_transparency_data)


def normal(part: Image.Image) -> Image.Image:
    """Return a small picture of any mode as RGB, or as RGBA where it may be transparent."""
    if has_alpha(part):
        return part.convert("RGBA")
    if part.mode.startswith("I;16"):
        # The high byte is the 8-bit code; Pillow's own conversion would clip instead.
        offset = 0 if part.mode.endswith("B") else 1
        part = Image.frombytes("L", part.size, part.tobytes()[offset::2])
    elif part.mode in {"I", "F"}:
        top = float(part.getextrema()[1])  # type: ignore[arg-type]
        scale = 1 / HIGH_BYTES if part.mode == "I" and top >= HIGH_BYTES else 1.0
        scale = 255.0 if part.mode == "F" and top <= 1.0 else scale
        part = part.convert("F").point(lambda value: value * scale + 0.0).convert("L")
    elif part.mode == "LAB":
        part = part.getchannel(0)
    return part if part.mode == "RGB" else part.convert("RGB")


def strip(picture: Image.Image, side: Side, lines: int) -> Image.Image:
    """Return the outermost lines of a side as RGB or RGBA, the outermost on top."""
    part = normal(picture.crop(_box(picture.size, side, lines)))
    if side == "left":
        return part.transpose(Image.Transpose.TRANSPOSE)
    if side == "bottom":
        return part.transpose(Image.Transpose.FLIP_TOP_BOTTOM)
    if side == "right":
        return part.transpose(Image.Transpose.FLIP_LEFT_RIGHT).transpose(Image.Transpose.TRANSPOSE)
    return part
