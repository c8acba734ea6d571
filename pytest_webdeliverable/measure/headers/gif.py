"""Read the blocks of a GIF file (GIF89a, CompuServe 1990; sections are named beside)."""

from __future__ import annotations

import re
import struct
from typing import Final

from pytest_webdeliverable.measure.headers.base import DamagedError, Header
from pytest_webdeliverable.measure.headers.reading import (
    ENDS_EARLY,
    Allowance,
    bytes_behind,
    require,
)
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits

GIF_SUB_BLOCKS: Final = 1_000_000
"""Most data sub-blocks walked over. At their full 255 bytes they fill 255 MB, and 100,000 frames
of a few pixels need 400,000."""

_CODE_SIZES: Final = range(1, 12)
"""Bits of a pixel before compression. A code has 12 bits at most and is one longer (appendix F); 2 is the
least by the standard, old writers give 1, and decoders take sizes that no color table needs."""
_BLOCK_START: Final = re.compile(rb"[!,;]")
_XMP: Final = b"XMP DataXMP"
_XMP_MAGIC: Final = b"\x01\xff\xfe\xfd\xfc"
"""Begin of the 258 bytes behind XMP text that lead a walk over sub-blocks to their end
(XMP Specification Part 3, section 1.1.2)."""
_PROFILE: Final = b"ICCRGBG1012"
"""Application extension that holds an ICC profile (ICC.1, annex on embedding)."""


def read(data: bytes, limits: Limits = DEFAULT_LIMITS) -> Header:
    """Read a whole GIF file held in memory.

    ``alpha`` is the transparency flag of the first frame, or that it leaves part of the screen free: later
    frames use it to leave the frame before in place. The standard has the free part in a background color
    (section 18), which browsers pass over. The size grows with a first frame that is larger than the
    screen it stands on, as viewers do it. Raises DamagedError when the file is no GIF or holds no frame.
    """
    require(data, "gif")
    return _Gif(data, limits).header()


class _Gif:
    """The facts gathered while walking over the blocks of one file."""

    def __init__(self, data: bytes, limits: Limits) -> None:
        self._data = data
        self._allowance = Allowance(limits)
        self._sub_blocks = 0
        self._problems: list[str] = []
        self._frames = 0
        self._transparent = False
        self._alpha = False
        self._first = (0, 0, 0, 0)
        self._xmp: list[bytes] = []
        self._icc: bytes | None = None
        self._icc_problem: str | None = None
        if len(data) < 13:
            raise DamagedError(ENDS_EARLY)
        self._width, self._height = struct.unpack_from("<HH", data, 6)

    def header(self) -> Header:
        # The global color table has 2^(n + 1) entries of 3 bytes (section 18).
        self._walk(13 + table_size(self._data[10]))
        if not self._frames:
            raise DamagedError(
                ENDS_EARLY if ENDS_EARLY in self._problems else "the file holds no picture"
            )
        if not (self._width and self._height):
            raise DamagedError(f"the file gives a size of {self._width} x {self._height}")
        whole = (0, 0, self._width, self._height)
        return Header(
            format="gif",
            width=self._width,
            height=self._height,
            mode="rgb",
            bits=8,
            alpha=self._alpha or self._first != whole,
            covered=None if self._first == whole else self._first,
            indexed=True,
            frames=self._frames,
            icc=self._icc,
            icc_problem=self._icc_problem,
            xmp=tuple(self._xmp),
            problems=tuple(self._problems),
        )

    def _walk(self, at: int) -> None:
        """Go from block to block until the trailer, one byte that must end the file."""
        data = self._data
        if at > len(data):
            raise DamagedError(ENDS_EARLY)
        while True:
            start = _BLOCK_START.search(data, at)
            if start is None:
                self._problem(
                    "the end mark of the file is missing" if at <= len(data) else ENDS_EARLY
                )
                return
            if start.start() > at:
                self._problem("there are stray bytes between the parts of the file")
            at = start.start() + 1
            match start[0]:
                case b";":
                    if at < len(data):
                        self._problem(bytes_behind(len(data) - at))
                    return
                case b",":
                    at = self._frame(at)
                case _:
                    at = self._extension(at)
            if at > len(data):
                self._problem(ENDS_EARLY)
                return

    def _frame(self, at: int) -> int:
        """Count an image descriptor (section 20) and skip its pixels; return where they end."""
        if at + 10 > len(self._data):
            return len(self._data) + 1
        left, top, width, height, flags = struct.unpack_from("<HHHHB", self._data, at)
        self._frames += 1
        if self._frames == 1:
            self._width = max(self._width, left + width)
            self._height = max(self._height, top + height)
            self._alpha = self._transparent
            self._first = (left, top, left + width, top + height)
        elif left + width > self._width or top + height > self._height:
            # It must fit (section 20), and would make decoders enlarge all they hold.
            self._problem("a frame reaches beyond the picture")
        # The byte behind the color table is the code size of the compressed pixels (section 22).
        pixels = at + 9 + table_size(flags)
        if pixels < len(self._data) and self._data[pixels] not in _CODE_SIZES:
            self._problem("the picture data is damaged")
        return self._skip_sub_blocks(pixels + 1)

    def _extension(self, at: int) -> int:
        """Read an extension whose label stands at ``at``; return where it ends."""
        data = self._data
        label = data[at : at + 1]
        start = at + 1
        end = self._skip_sub_blocks(start)
        if label == b"\xf9" and data[start : start + 1] == b"\4":
            # Graphic control (section 23): the lowest flag says that one index is transparent.
            self._transparent = bool(int.from_bytes(data[start + 1 : start + 2], "big") & 1)
        elif label == b"\xff" and end <= len(data):
            name = data[start + 1 : start + 12]
            if name == _XMP:
                self._take_xmp(start + 12, end)
            elif name == _PROFILE and self._icc is None:
                profile = self._join(start + 12, end)
                self._icc, self._icc_problem = self._allowance.profile(profile, 0, len(profile))
        return end

    def _take_xmp(self, start: int, end: int) -> None:
        """Keep XMP, which is stored as plain text; some writers cut it into sub-blocks instead."""
        magic = self._data.rfind(_XMP_MAGIC, start, end)
        stored = magic >= 0
        text = self._allowance.take(self._data, start, magic) if stored else self._join(start, end)
        if text:
            self._xmp.append(text)

    def _join(self, start: int, end: int) -> bytes:
        """Join the sub-blocks from ``start`` to their terminator, without the length bytes."""
        stored = self._allowance.take(self._data, start, end)
        parts, at = [], 0
        while at < len(stored) and stored[at]:
            parts.append(stored[at + 1 : at + 1 + stored[at]])
            at += 1 + stored[at]
        return b"".join(parts)

    def _skip_sub_blocks(self, at: int) -> int:
        """Return where the sub-blocks end (sections 15, 16); beyond the data if they do not."""
        data, size = self._data, len(self._data)
        left = GIF_SUB_BLOCKS - self._sub_blocks
        for count in range(left):
            if at >= size:
                return size + 1
            length = data[at]
            at += 1 + length
            if not length:
                self._sub_blocks += count + 1
                return at
        raise DamagedError(f"the file is cut into more than {GIF_SUB_BLOCKS:,} blocks")

    def _problem(self, sentence: str) -> None:
        if sentence not in self._problems:
            self._problems.append(sentence)


def table_size(flags: int) -> int:
    """Bytes of the color table that the flags announce (sections 18 and 20)."""
    return 3 << ((flags & 7) + 1) if flags & 0x80 else 0
