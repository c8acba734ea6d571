"""The frames of an animated PNG, put together on a canvas that is see-through to begin with.

PNG Third Edition, 11.3.6.2: a frame that is disposed of to the background leaves "fully transparent black",
also in a picture of a color type without alpha; Pillow leaves opaque black there. So each frame is decoded
by itself here, and laid on the canvas.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from PIL import Image

from pytest_webdeliverable.measure.headers.sniff import PNG_SIGNATURE
from pytest_webdeliverable.measure.pruned import for_decoding, png_chunk

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pytest_webdeliverable.measure.headers.base import Header
    from pytest_webdeliverable.measure.limits import Limits

_CLEARED, _RESTORED = 1, 2
"""Disposal of a frame; the third, 0, lets it stay (table 27)."""
_OVER: Final = 1
"""Blending by alpha; 0 replaces what is there."""
_SHARED: Final = frozenset({b"PLTE", b"tRNS"})
"""Chunks that every frame is decoded with."""
_COMMON_DIVISOR: Final = 100
"""What a divisor of 0 stands for in the time of a frame."""


@dataclass(slots=True)
class Part:
    """One frame: its place, how it is laid and taken off, its time, and its data within the file."""

    box: tuple[int, int, int, int]
    disposal: int
    blending: int
    milliseconds: float
    data: list[tuple[int, int]] = field(default_factory=list)


class Frames:
    """The frames of one file, which the header reader found intact."""

    def __init__(self, data: bytes, header: Header, limits: Limits) -> None:
        self._data = data
        self._header = header
        self._limits = limits
        self._shared: dict[bytes, bytes] = {}

    def parts(self) -> Iterator[Part]:
        """Yield the frames; a picture for programs without animation is none (5.3)."""
        at, part = len(PNG_SIGNATURE), None
        first = True
        while at + 12 <= len(self._data):
            size, name = struct.unpack_from(">I4s", self._data, at)
            start, end = at + 8, at + 8 + size
            if name in {b"fcTL", b"IEND"} and part is not None:
                yield part
                first = False
            if name == b"fcTL":
                part = self._part(start, first=first)
            elif name == b"IDAT" and part is not None:
                part.data.append((start, end))
            elif name == b"fdAT" and part is not None:
                part.data.append((start + 4, end))
            elif name in _SHARED:
                self._shared.setdefault(name, self._data[at : end + 4])
            at = end + 4

    def _part(self, start: int, *, first: bool) -> Part:
        numbers = struct.unpack_from(">5I2H2B", self._data, start)
        _, width, height, left, top, time, divisor, disposal, blending = numbers
        if first and disposal == _RESTORED:
            disposal = _CLEARED  # there was nothing before
        milliseconds = 1000 * time / (divisor or _COMMON_DIVISOR)
        return Part((left, top, left + width, top + height), disposal, blending, milliseconds)

    def lay(self, part: Part, canvas: Image.Image) -> Image.Image | None:
        """Lay a frame on a canvas in RGBA; return what was covered, where that is to come back.

        Raises what decoders raise.
        """
        before = canvas.crop(part.box) if part.disposal == _RESTORED else None
        drawn = self._drawn(part)
        if part.blending == _OVER and drawn.mode == "RGBA":
            canvas.alpha_composite(drawn, part.box[:2])
        else:
            canvas.paste(drawn, part.box[:2])
        return before

    def _drawn(self, part: Part) -> Image.Image:
        """Decode a frame by itself, as RGBA, or in a mode without alpha."""
        left, top, right, bottom = part.box
        kinds = self._data[24:29]
        coded = b"".join(self._data[start:end] for start, end in part.data)
        head = png_chunk(b"IHDR", struct.pack(">2I", right - left, bottom - top) + kinds)
        pieces = (
            PNG_SIGNATURE,
            head,
            *self._shared.values(),
            png_chunk(b"IDAT", coded),
            png_chunk(b"IEND"),
        )
        alone = for_decoding(b"".join(pieces), self._header, self._limits)
        with Image.open(alone, formats=["PNG"]) as opened:
            opened.load()
            if opened.mode.startswith("I"):  # 16 bits a sample
                return opened.point(lambda code: code * (1 / 256)).convert("L")
            return opened.convert("RGBA") if opened.has_transparency_data else opened.convert("RGB")


def dispose(part: Part, canvas: Image.Image, before: Image.Image | None) -> None:
    """Take a frame off the canvas as it asks for."""
    if before is not None:
        canvas.paste(before, part.box[:2])
    elif part.disposal == _CLEARED:
        canvas.paste((0, 0, 0, 0), part.box)
