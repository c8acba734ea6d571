"""Reduce a picture to the signature that likeness is judged by."""

from __future__ import annotations

from math import gcd
from typing import Final

from PIL import Image

from pytest_webdeliverable.likeness.signature import (
    COARSE,
    LONG_SIDE,
    Signature,
    as_text,
    chroma_grid,
    pack,
)
from pytest_webdeliverable.measure.history.mosaic import luma

GAP: Final = 3.0
"""Pillow may reduce by whole steps first as long as this many samples a cell remain."""
WHITE: Final = (255, 255, 255)
"""Paper that see-through pictures are laid on."""


def signature(picture: Image.Image) -> Signature:
    """Reduce a loaded picture of any mode to a signature.

    See-through parts are laid on white. CMYK becomes RGB without its profile.
    """
    width, height = picture.size
    grid = _grid(width, height)
    small = _opaque(_reduced(picture, grid))
    y, cb, cr = small.convert("YCbCr").split()
    half = chroma_grid(grid)
    chroma = [plane.resize(half, Image.Resampling.BOX) for plane in (cb, cr)]
    return {
        "size": [width, height],
        "mode": "cmyk" if picture.mode == "CMYK" else "rgb",
        "grid": list(grid),
        "luma": pack(y.tobytes()),
        "chroma": pack(b"".join(plane.tobytes() for plane in chroma)),
        "coarse": as_text(b"".join(_coarse(plane).tobytes() for plane in (y, *chroma))),
    }


def _coarse(plane: Image.Image) -> Image.Image:
    """Average a plane into COARSE x COARSE cells, to their exact edges: cells are split first."""
    width, height = plane.size
    across, down = COARSE // gcd(width, COARSE), COARSE // gcd(height, COARSE)
    split = plane.resize((width * across, height * down), Image.Resampling.NEAREST)
    return split.reduce((split.width // COARSE, split.height // COARSE))


def _grid(width: int, height: int) -> tuple[int, int]:
    longer = max(width, height)
    cells = min(LONG_SIDE, longer)
    return max(1, round(width * cells / longer)), max(1, round(height * cells / longer))


def _reduced(picture: Image.Image, grid: tuple[int, int]) -> Image.Image:
    """Scale to the grid by area, in a mode that can be averaged."""
    if picture.mode == "P":
        picture = picture.convert("RGBA" if "transparency" in picture.info else "RGB")
    elif picture.mode in {"I", "F"} or picture.mode.startswith("I;16"):
        picture = luma(picture)
    elif picture.mode == "1":
        picture = picture.convert("L")
    elif picture.mode in {"PA", "LA", "RGBa"}:
        picture = picture.convert("RGBA")
    return picture.resize(grid, Image.Resampling.BOX, reducing_gap=GAP)


def _opaque(small: Image.Image) -> Image.Image:
    if small.mode == "RGBA":
        paper = Image.new("RGB", small.size, WHITE)
        paper.paste(small, mask=small.getchannel("A"))
        return paper
    return small.convert("RGB")
