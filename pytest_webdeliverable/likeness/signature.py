"""A picture in small: what two pictures are compared by. Plain text and numbers, no pixels library."""

from __future__ import annotations

import zlib
from binascii import a2b_base64, b2a_base64
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final, TypedDict

if TYPE_CHECKING:
    from collections.abc import Sequence

LONG_SIDE: Final = 96
"""Most cells along the longer side. A cell of a 1600 px wide picture is 16.7 px, so a changed word
of a title covers several."""
COARSE: Final = 8
"""Cells each way of the coarse picture, by which two pictures are told apart at first sight."""
CHROMA_STEP: Final = 2
"""Luma cells per chroma cell, each way: color changes are seen over larger areas than lightness."""
MOST_BYTES: Final = 4 * LONG_SIDE * LONG_SIDE
"""Most bytes a plane may unpack to, whatever a damaged cache entry says."""


class Signature(TypedDict):
    """A picture in small.

    ``size`` is the picture's width and height, px; ``mode`` ``"cmyk"`` for CMYK, else ``"rgb"``
    (gray counts as such); ``grid`` the cells across and down. ``luma`` and
    ``chroma`` are 8-bit planes, row by row (chroma: all of Cb, then all of Cr, at half the cells),
    packed by zlib and written in base 64. ``coarse`` is the mean of Y, Cb and Cr in COARSE x COARSE
    cells each, band by band, in base 64.
    """

    size: list[int]
    mode: str
    grid: list[int]
    luma: str
    chroma: str
    coarse: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """One channel of a small picture: rows of 8-bit values, or finer after resampling."""

    rows: Sequence[Sequence[float]]

    @property
    def width(self) -> int:
        """Cells across."""
        return len(self.rows[0])

    @property
    def height(self) -> int:
        """Cells down."""
        return len(self.rows)


def chroma_grid(grid: Sequence[int]) -> tuple[int, int]:
    """Cells of the chroma planes for a grid of luma cells."""
    return -(-grid[0] // CHROMA_STEP), -(-grid[1] // CHROMA_STEP)


def pack(plane: bytes) -> str:
    """Write a plane as text."""
    return as_text(zlib.compress(plane, 6))


def as_text(data: bytes) -> str:
    """Write bytes as text."""
    return b2a_base64(data, newline=False).decode("ascii")


def coarse(signature: Signature) -> bytes:
    """Y, Cb and Cr of the coarse picture, one after the other. Raises ValueError for damage."""
    data = a2b_base64(signature["coarse"], strict_mode=True)
    if len(data) != 3 * COARSE * COARSE:
        raise ValueError("a signature does not hold the cells it states")
    return data


def _unpack(text: str, length: int) -> bytes:
    data = zlib.decompressobj().decompress(a2b_base64(text, strict_mode=True), MOST_BYTES)
    if len(data) != length:
        raise ValueError("a signature does not hold the cells it states")
    return data


def _plane(data: bytes, width: int) -> Plane:
    return Plane(rows=[data[at : at + width] for at in range(0, len(data), width)])


@lru_cache(maxsize=64)
def _planes(luma: str, chroma: str, across: int, down: int) -> tuple[Plane, Plane, Plane]:
    wide, high = chroma_grid((across, down))
    colors = _unpack(chroma, 2 * wide * high)
    return (
        _plane(_unpack(luma, across * down), across),
        _plane(colors[: wide * high], wide),
        _plane(colors[wide * high :], wide),
    )


def planes(signature: Signature) -> tuple[Plane, Plane, Plane]:
    """Luma, Cb and Cr of a signature.

    Raises ValueError where the text is damaged.
    """
    across, down = signature["grid"]
    try:
        return _planes(signature["luma"], signature["chroma"], across, down)
    except zlib.error as error:
        raise ValueError("a signature is damaged") from error
