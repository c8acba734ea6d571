"""Read the chunks of a WebP file (RFC 9649; sections are named beside)."""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.headers.base import DamagedError, Header
from pytest_webdeliverable.measure.headers.reading import (
    ENDS_EARLY,
    EXIF_PREFIX,
    LATE_PROFILE,
    Allowance,
    bytes_behind,
    pictures_in_assertions,
    require,
)
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits

if TYPE_CHECKING:
    from collections.abc import Iterator

WEBP_CHUNKS: Final = 100_000
"""Most chunks walked over; an animation of an hour at 25 frames a second has 90,000."""

_PROFILE_FLAG: Final = 0x20
ALPHA_FLAG: Final = 0x10
_ANIMATION_FLAG: Final = 0x02
"""Bits of the first byte of VP8X, section 2.7."""
_PICTURES: Final = frozenset({b"VP8 ", b"VP8L"})
"""Chunks of lossy and of lossless data; a file has one of them, and decoders take the first."""
_FRAMES: Final = _PICTURES | {b"ALPH", b"ANMF"}
"""Chunks before which a profile must stand (section 2.7.1.4)."""
_VP8_START: Final = b"\x9d\x01\x2a"
"""Start code of a key frame (RFC 6386, section 9.1)."""
_VP8L_SIGNATURE: Final = 0x2F
"""First byte of lossless data, section 3.4."""


def read(data: bytes, limits: Limits = DEFAULT_LIMITS) -> Header:
    """Read a whole WebP file held in memory.

    ``frames`` counts the ANMF chunks of an animation. Raises DamagedError when the file is no WebP
    or does not tell its size.
    """
    require(data, "webp")
    return _WebP(data, limits).header()


class _WebP:
    """The facts gathered while walking over the chunks of one file."""

    def __init__(self, data: bytes, limits: Limits) -> None:
        self._data = data
        self._allowance = Allowance(limits)
        self._problems: list[str] = []
        self._canvas: tuple[int, int] | None = None
        self._flags = 0
        self._picture: tuple[int, int] | None = None
        self._alpha = False
        self._frames = 0
        self._first: tuple[int, int, int, int] | None = None
        self._seen: set[bytes] = set()
        self._icc: bytes | None = None
        self._icc_problem: str | None = None
        self._late_profile = False
        self._exif: bytes | None = None
        self._xmp: list[bytes] = []
        self._loose: list[bytes] = []
        self._previews: tuple[bytes, ...] = ()

    def header(self) -> Header:
        end = self._riff_end()
        for name, start, stop in self._chunks(12, end):
            self._take(name, start, stop)
            self._seen.add(name)
        animated = bool(self._flags & _ANIMATION_FLAG)
        size = self._canvas or self._picture
        if size is None:
            raise DamagedError((*self._problems, "the file holds no picture")[0])
        if 0 in size:
            raise DamagedError(f"the file gives a size of {size[0]} x {size[1]}")
        if not (self._frames if animated else self._picture):
            self._problem("the file holds no picture data")
        elif not animated and self._picture != size:
            self._problem("the picture is not as large as the file says")
        self._check_announced()
        covered = None if self._first in {None, (0, 0, *size)} or not animated else self._first
        return Header(
            format="webp",
            width=size[0],
            height=size[1],
            mode="rgb",
            bits=8,
            alpha=self._alpha or covered is not None,
            covered=covered,
            frames=max(self._frames, 1) if animated else 1,
            icc=self._icc,
            icc_problem=self._icc_problem,
            exif=self._exif,
            xmp=tuple(self._xmp),
            previews=self._previews,
            loose=tuple(self._loose),
            problems=tuple(self._problems),
        )

    def _riff_end(self) -> int:
        """End of the container as its size field gives it, at most that of the file (2.4)."""
        stated = 8 + int.from_bytes(self._data[4:8], "little")
        behind = len(self._data) - stated - stated % 2
        if stated > len(self._data):
            self._problem(ENDS_EARLY)
        elif behind > 0:
            self._problem(bytes_behind(behind))
        return min(stated, len(self._data))

    def _chunks(self, at: int, end: int) -> Iterator[tuple[bytes, int, int]]:
        """Name, start and end of each chunk's data between two places (2.3)."""
        for _ in range(WEBP_CHUNKS + 1):
            if at >= end:
                return
            size = int.from_bytes(self._data[at + 4 : at + 8], "little")
            start, stop = at + 8, at + 8 + size
            if stop > end:
                self._problem(ENDS_EARLY)
                if start >= end:
                    return
            yield self._data[at : at + 4], start, min(stop, end)
            at = stop + size % 2
        raise DamagedError(f"the file is cut into more than {WEBP_CHUNKS:,} chunks")

    def _take(self, name: bytes, start: int, stop: int) -> None:
        """Note what one chunk says; of repeated chunks the first counts."""
        if name == b"ANMF":
            self._take_frame(start, stop)
        elif name == b"XMP ":
            self._xmp.append(self._allowance.take(self._data, start, stop))
        elif name in self._seen:
            if name == b"EXIF":
                self._loose.append(self._allowance.take(self._data, start, stop))
            return
        match name:
            case b"VP8X":
                self._take_canvas(start, stop)
            case b"VP8 " | b"VP8L" if not _PICTURES & self._seen:
                self._picture, alpha = self._bitstream(name, start, stop)
                self._alpha |= alpha
            case b"ALPH":
                self._alpha = True
            case b"ICCP" if not _FRAMES.isdisjoint(self._seen):
                self._late_profile = True
            case b"ICCP":
                self._icc, self._icc_problem = self._allowance.profile(self._data, start, stop)
            case b"C2PA":
                boxes = self._allowance.take(self._data, start, stop)
                self._previews = pictures_in_assertions(boxes)
            case b"EXIF":
                exif = self._allowance.take(self._data, start, stop)
                self._exif = exif.removeprefix(EXIF_PREFIX)

    def _take_canvas(self, start: int, stop: int) -> None:
        """Read VP8X, which must come first: flags and the canvas size less one (2.7)."""
        if stop - start < 10:
            self._problem(ENDS_EARLY)
            return
        if self._seen:
            self._problem("the parts of the file are out of order")
            return
        self._flags = self._data[start]
        self._alpha |= bool(self._flags & ALPHA_FLAG)
        width = 1 + int.from_bytes(self._data[start + 4 : start + 7], "little")
        height = 1 + int.from_bytes(self._data[start + 7 : start + 10], "little")
        self._canvas = width, height

    def _bitstream(self, name: bytes, start: int, stop: int) -> tuple[tuple[int, int] | None, bool]:
        """Size and alpha flag that compressed data begins with (RFC 6386 9.1; RFC 9649 3.4)."""
        head = self._data[start : min(stop, start + 10)]
        if len(head) < (10 if name == b"VP8 " else 5):
            self._problem(ENDS_EARLY)
            return None, False
        if name == b"VP8 ":
            tag = int.from_bytes(head[:3], "little")
            if tag & 1 or head[3:6] != _VP8_START:
                self._problem("the picture data is damaged")
                return None, False
            if tag >> 5 > stop - start:
                self._problem(ENDS_EARLY)
            width, height = struct.unpack_from("<HH", head, 6)
            # The two upper bits of each are a hint for scaling.
            return (width & 0x3FFF, height & 0x3FFF), False
        if head[0] != _VP8L_SIGNATURE:
            self._problem("the picture data is damaged")
            return None, False
        bits = int.from_bytes(head[1:5], "little")
        return ((bits & 0x3FFF) + 1, (bits >> 14 & 0x3FFF) + 1), bool(bits >> 28 & 1)

    def _take_frame(self, start: int, stop: int) -> None:
        """Count a frame of an animation, and check its place on the canvas (2.7.1.1)."""
        self._frames += 1
        if stop - start < 16 or self._canvas is None:
            self._problem(ENDS_EARLY)
            return
        left, top, width, height = (
            int.from_bytes(self._data[at : at + 3], "little") for at in range(start, start + 12, 3)
        )
        if 2 * left + width + 1 > self._canvas[0] or 2 * top + height + 1 > self._canvas[1]:
            self._problem("a frame of the animation reaches outside the picture")
        if self._frames == 1:
            # Readers need not fill the rest with the background color (2.7.1.1), and browsers do not.
            self._first = (2 * left, 2 * top, 2 * left + width + 1, 2 * top + height + 1)

    def _check_announced(self) -> None:
        """Compare the flags of the extended format with the chunks that are there.

        Readers ignore a profile that is not announced, or stands behind the picture (they should fail:
        section 2.7); metadata is kept in any case.
        """
        announced = bool(self._flags & _PROFILE_FLAG)
        if announced and b"ICCP" not in self._seen:
            self._icc_problem = "a color profile is announced, but missing"
        elif self._icc is not None and not announced:
            self._icc = None
            self._icc_problem = "the color profile is not announced, so that readers ignore it"
        elif self._late_profile:
            self._icc_problem = LATE_PROFILE

    def _problem(self, sentence: str) -> None:
        if sentence not in self._problems:
            self._problems.append(sentence)
