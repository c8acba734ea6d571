"""Whether the compressed picture data of a PNG file holds all rows of the picture.

Decoders fill missing rows with black and say nothing when the data ends early but in order, so that
the rows must be counted here. Nothing is kept of what is unpacked.
"""

from __future__ import annotations

import zlib
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterable

_PIECE: Final = 1 << 16
"""Bytes unpacked from at a time: what is left of a piece is copied for each step."""
_STEP: Final = 1 << 20
"""Bytes unpacked at a time."""
_ADAM7: Final = (
    (0, 0, 8, 8),
    (4, 0, 8, 8),
    (0, 4, 4, 8),
    (2, 0, 4, 4),
    (0, 2, 2, 4),
    (1, 0, 2, 2),
    (0, 1, 1, 2),
)
"""Passes of an interlaced picture: first column, first row, steps (PNG Third Edition, 8.1)."""


def unpacked_size(width: int, height: int, bits: int, *, interlaced: bool) -> int:
    """Bytes of all rows, each with its filter byte; ``bits`` are those of a whole pixel (7.2)."""
    passes = _ADAM7 if interlaced else ((0, 0, 1, 1),)
    total = 0
    for left, top, across, down in passes:
        columns = -(-(width - left) // across)
        rows = -(-(height - top) // down)
        if columns > 0 and rows > 0:
            total += rows * (1 + (columns * bits + 7) // 8)
    return total


def holds(data: bytes, places: Iterable[tuple[int, int]], wanted: int) -> bool:
    """Whether the zlib stream that lies at the places in turn unpacks to the wanted size.

    Stops as soon as that much is there. Raises zlib.error for a broken stream.
    """
    unpacker = zlib.decompressobj()
    view = memoryview(data)
    total = 0
    for start, end in places:
        for at in range(start, end, _PIECE):
            piece: bytes | memoryview = view[at : min(at + _PIECE, end)]
            while piece:
                total += len(unpacker.decompress(piece, _STEP))
                if total >= wanted:
                    return True
                if unpacker.eof:
                    return False
                piece = unpacker.unconsumed_tail
    return total + len(unpacker.flush()) >= wanted
