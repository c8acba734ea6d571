"""The part of a picture that tells most about its past: its most detailed squares, side by side.

Compression leaves its traces where there is detail; flat paper, sky and black say nothing and only
dilute the statistics. So the measurements here look at a mosaic of squares cut on the 16-pixel
grid, which keeps every 8 x 8 block of the file whole and in phase.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from PIL import Image, ImageChops

if TYPE_CHECKING:
    from collections.abc import Sequence

TILE: Final = 128
"""Side of a square, px: a multiple of 16, so that JPEG blocks and 4:2:0 macroblocks stay whole."""
SMALL_TILE: Final = 64
"""Side of a square, px, for pictures that hold fewer than four large ones."""
ACROSS: Final = 4
"""Squares per row of the mosaic: 4 x 4 squares of 128 px are 4096 blocks of 8 x 8."""
LEAST_DETAIL: Final = 0.5
"""Mean difference of neighbors below which a square says nothing, code values."""


def luma(picture: Image.Image) -> Image.Image:
    """8-bit luma of any picture (ITU-R BT.601 weights, as in JFIF); transparency is ignored."""
    if picture.mode == "L":
        return picture
    if picture.mode in {"I;16", "I;16L", "I;16B", "I", "F"}:
        return _from_deep(picture)
    return picture.convert("L")


def _from_deep(picture: Image.Image) -> Image.Image:
    """Scale 16-bit and float samples to 8 bits by the largest value they reach."""
    real = picture.convert("F")
    _, high = real.getextrema()
    assert isinstance(high, float), "there is one band"
    white = 65535.0 if high > 255.0 else (255.0 if high > 1.0 else 1.0)
    return real.point(lambda v: v * (255.0 / white)).convert("L")


def detail_squares(gray: Image.Image, side: int) -> list[tuple[float, int, int]]:
    """Squares of ``side`` px on their own grid, most detailed first, as (detail, x, y).

    Detail is the mean absolute difference of horizontal neighbors, in code values.
    """
    columns, rows = gray.width // side, gray.height // side
    if not columns or not rows:
        return []
    area = gray.crop((0, 0, columns * side, rows * side))
    moved = ImageChops.difference(area, ImageChops.offset(area, 1, 0))
    means = moved.convert("F").reduce(side)
    values = means.get_flattened_data()
    ranked = [
        (float(value), i % columns * side, i // columns * side)
        for i, value in enumerate(values)
        if isinstance(value, float)
    ]
    # sorting keeps the order of equals: row by row
    return sorted(ranked, key=lambda square: -square[0])


def choose_squares(gray: Image.Image) -> tuple[int, list[tuple[int, int]]]:
    """Side and corners of the squares to look at, most detailed first; none if all are plain."""
    squares = detail_squares(gray, TILE)
    side = TILE if len(squares) >= ACROSS else SMALL_TILE
    if side != TILE:
        squares = detail_squares(gray, side)
    most = (ACROSS * TILE // side) ** 2
    return side, [(x, y) for detail, x, y in squares[:most] if detail >= LEAST_DETAIL]


def mosaic(gray: Image.Image, side: int, corners: Sequence[tuple[int, int]]) -> Image.Image:
    """Put the squares, one at least, side by side, as near to a square as their number allows."""
    across = int(len(corners) ** 0.5)
    down = len(corners) // across
    sheet = Image.new("L", (across * side, down * side))
    for i, (x, y) in enumerate(corners[: across * down]):
        at = (i % across * side, i // across * side)
        sheet.paste(gray.crop((x, y, x + side, y + side)), at)
    return sheet
