"""The frames of a GIF as browsers put them together, on a canvas that is see-through to begin with.

GIF89a, section 23, has a frame that is done with give way to the background color, to what was there before,
or stay. Browsers leave its place see-through instead of the color (Gecko, Blink, WebKit), and so it was
before the first frame; Pillow takes the color, or a later frame's pixels, where no color is marked as
see-through. So each frame is decoded by itself here, and laid on the canvas.
"""

from __future__ import annotations

import io
import struct
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from PIL import Image

from pytest_webdeliverable.measure.decode import forget_foreign_table
from pytest_webdeliverable.measure.headers.gif import table_size

if TYPE_CHECKING:
    from collections.abc import Iterator

_SCREEN: Final = 13
"""Bytes of the header and of the logical screen descriptor (sections 17 and 18)."""
_IMAGE: Final = 10
"""Bytes of an image descriptor (section 20)."""
_CLEARED: Final = 2
"""Disposal method that makes a frame give way to the background (section 23)."""
_RESTORED: Final = frozenset({3, 4})
"""Those that bring back what was there before; 4 is no method of the standard, and is taken for 3."""


@dataclass(frozen=True, slots=True)
class Part:
    """One frame within a file: where its descriptor begins, where its data ends, and its control block."""

    start: int
    end: int
    disposal: int
    milliseconds: int
    clear: int | None
    box: tuple[int, int, int, int]


def parts(data: bytes) -> Iterator[Part]:
    """Yield the frames of a file that the header reader found intact; IndexError where it is not."""
    at = _SCREEN + table_size(data[10])
    disposal = delay = 0
    clear: int | None = None
    while data[at] != ord(";"):
        if data[at] == ord(","):
            left, top, width, height, flags = struct.unpack_from("<4HB", data, at + 1)
            end = _past_blocks(data, at + _IMAGE + table_size(flags) + 1)
            box = (left, top, left + width, top + height)
            yield Part(at, end, disposal, 10 * delay, clear, box)
            disposal, delay, clear = 0, 0, None  # a control block is for one frame
        else:
            end = _past_blocks(data, at + 2)
            if data[at + 1 : at + 3] == b"\xf9\4":
                flags, delay, index = struct.unpack_from("<BHB", data, at + 3)
                disposal, clear = flags >> 2 & 7, index if flags & 1 else None
        at = end


def lay(data: bytes, part: Part, canvas: Image.Image) -> tuple[Image.Image, Image.Image | None]:
    """Lay a frame on a canvas, RGBA or RGB; return that, and what was covered where it is to come back.

    Raises what decoders raise.
    """
    left, top, right, bottom = part.box
    whole = part.box == (0, 0, *canvas.size)
    before = canvas.crop(part.box) if part.disposal in _RESTORED else None
    if left >= right or top >= bottom:
        return canvas, before
    if part.clear is None and whole:
        return _drawn(data, part, "RGB"), before
    drawn = _drawn(data, part, "RGBA")
    canvas.paste(drawn, (left, top), None if part.clear is None else drawn)
    return canvas, before


def dispose(part: Part, canvas: Image.Image, before: Image.Image | None) -> Image.Image:
    """Take a frame off the canvas as it asks for; return what the next one is laid on."""
    whole = part.box == (0, 0, *canvas.size)
    if before is not None:
        if whole:
            return before
        if before.mode != canvas.mode:
            canvas = canvas.convert("RGBA")
        canvas.paste(before, part.box[:2])
    elif part.disposal == _CLEARED:
        canvas = Image.new("RGBA", canvas.size) if whole else canvas.convert("RGBA")
        canvas.paste((0, 0, 0, 0), part.box)
    return canvas


def _drawn(data: bytes, part: Part, mode: str) -> Image.Image:
    """Decode a frame by itself, with its own color table or that of the file."""
    table = data[_SCREEN : _SCREEN + table_size(data[10])]
    left, top, right, bottom = part.box
    control = b"" if part.clear is None else b"!\xf9\4\1\0\0" + bytes((part.clear, 0))
    size = struct.pack("<2H", right - left, bottom - top)
    pieces = (b"GIF89a", size, data[10:_SCREEN], table, control, b",\0\0\0\0", size)
    alone = io.BytesIO(b"".join((*pieces, data[part.start + 9 : part.end], b";")))
    with Image.open(alone, formats=["GIF"]) as opened:
        forget_foreign_table(opened)
        opened.load()
        return opened.convert(mode)


def _past_blocks(data: bytes, at: int) -> int:
    """Return where a series of sub-blocks ends (section 15)."""
    while data[at]:
        at += 1 + data[at]
    return at + 1
