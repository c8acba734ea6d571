"""Read the chunks of a PNG file (W3C PNG, Third Edition, 2025; sections are named beside)."""

from __future__ import annotations

import struct
import zlib
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.headers import png_data
from pytest_webdeliverable.measure.headers.base import (
    ColorSignals,
    DamagedError,
    Density,
    Header,
)
from pytest_webdeliverable.measure.headers.png_text import PngMetadata
from pytest_webdeliverable.measure.headers.reading import (
    ENDS_EARLY,
    LATE_PROFILE,
    Allowance,
    UnpackError,
    bytes_behind,
    pictures_in_assertions,
    require,
)
from pytest_webdeliverable.measure.headers.sniff import PNG_SIGNATURE
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits

if TYPE_CHECKING:
    from collections.abc import Iterator

METERS_PER_INCH: Final = 0.0254
"""Pixels per meter times this are pixels per inch."""
LARGEST_SIDE: Final = 2**31 - 1
"""Largest width and height, section 11.2.1."""
_DEPTHS: Final[dict[int, tuple[int, ...]]] = {
    0: (1, 2, 4, 8, 16),
    2: (8, 16),
    3: (1, 2, 4, 8),
    4: (8, 16),
    6: (8, 16),
}
"""Bit depths by color type, section 11.2.1: gray, truecolor, indexed, and with alpha."""
_SAMPLES: Final = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
_PALETTE: Final = 3
_PER_UNIT: Final = 100_000
"""gAMA and cHRM store their values times this, sections 11.3.2.1 and 11.3.2.2."""
_BEFORE_PALETTE: Final = frozenset({b"iCCP", b"sRGB", b"gAMA", b"cHRM", b"cICP"})
_BEFORE_DATA: Final = _BEFORE_PALETTE | {b"pHYs", b"tRNS", b"PLTE", b"acTL"}
"""Order of chunks, section 5.6; readers ignore those that come too late."""
_CRITICAL: Final = frozenset({b"IHDR", b"PLTE", b"IDAT", b"IEND"})
"""Chunks that a picture cannot do without; section 5.4 marks them by an upper-case first letter."""
_REPEATED: Final = frozenset({b"iTXt", b"zTXt", b"tEXt", b"fcTL", b"fdAT"})
"""Chunks of which there may be several; of the others, readers take the first."""


def read(data: bytes, limits: Limits = DEFAULT_LIMITS) -> Header:
    """Read a whole PNG file held in memory.

    ``frames`` counts the frame control chunks of an animation, whatever number is claimed; a
    default image that is no frame of its animation is not counted, unless there is only one frame.
    Raises DamagedError when the file is no PNG, its image header is impossible, or it exceeds the
    limits.
    """
    require(data, "png")
    return _Png(data, limits).header()


class _Png:
    """The facts gathered while walking over the chunks of one file."""

    def __init__(self, data: bytes, limits: Limits) -> None:
        self._data = data
        self._chunk_limit = limits.png_chunks
        self._allowance = Allowance(limits)
        self._problems: list[str] = []
        self._seen: set[bytes] = set()
        self._colors = 0
        self._transparent = False
        self._densities: tuple[Density, ...] = ()
        self._icc: bytes | None = None
        self._icc_problem: str | None = None
        self._previews: tuple[bytes, ...] = ()
        self._metadata = PngMetadata(data, self._allowance)
        self._cicp: tuple[int, int, int, int] | None = None
        self._gamma: float | None = None
        self._chromaticities: tuple[float, ...] | None = None
        self._intent: int | None = None
        self._claimed_frames: int | None = None
        self._frames = 0
        self._sequence = 0
        self._default_is_apart = False
        self._pixel_limit = limits.pixels
        self._pixel_places: list[tuple[int, int]] = []
        self._width, self._height, self._depth, self._kind, self._interlaced = self._image_header()

    def header(self) -> Header:
        previous = b""
        for name, start, end in self._chunks():
            self._check_order(name, previous)
            late = self._too_late(name)
            if late and name == b"iCCP":
                self._icc_problem = LATE_PROFILE
            if name == b"IDAT":
                self._pixel_places.append((start, end))
            if name == b"eXIf" and name in self._seen:
                # Readers differ in which they take.
                self._metadata.loose.append(self._allowance.take(self._data, start, end))
            if name in _REPEATED or not (late or name in self._seen):
                self._take(name, start, end)
            self._seen.add(name)
            previous = name
        if b"IDAT" not in self._seen:
            self._problem("the file holds no picture data")
        elif self._kind == _PALETTE and b"PLTE" not in self._seen:
            self._problem("the color table is missing")
        if self._claimed_frames == 0 and not self._frames:
            self._problem("the animation claims to have no frames")
        if not self._problems:
            self._check_pixels()
        indexed = self._kind == _PALETTE
        return Header(
            format="png",
            width=self._width,
            height=self._height,
            mode="gray" if self._kind in {0, 4} else "rgb",
            bits=8 if indexed else self._depth,
            alpha=self._kind >= 4 or self._transparent,
            indexed=indexed,
            frames=self._frame_count(),
            densities=self._densities,
            icc=self._icc,
            icc_problem=self._icc_problem,
            exif=self._metadata.exif,
            xmp=tuple(self._metadata.xmp),
            iptc=self._metadata.iptc,
            previews=self._previews,
            loose=tuple(self._metadata.loose),
            signals=ColorSignals(
                cicp=self._cicp,
                gamma=self._gamma,
                chromaticities=self._chromaticities,
                srgb_intent=self._intent,
            ),
            problems=tuple(self._problems),
        )

    def _image_header(self) -> tuple[int, int, int, int, bool]:
        """Width, height, bit depth, color type, interlacing of IHDR, which must come first."""
        if len(self._data) < 29:
            raise DamagedError(ENDS_EARLY)
        if self._data[8:16] != b"\0\0\0\rIHDR":
            raise DamagedError("the file does not begin with an image header (IHDR)")
        width, height, depth, kind, packing, filtering, interlace = struct.unpack_from(
            ">IIBBBBB", self._data, 16
        )
        if not (0 < width <= LARGEST_SIDE and 0 < height <= LARGEST_SIDE):
            raise DamagedError(f"the image header gives an impossible size, {width} x {height}")
        if depth not in _DEPTHS.get(kind, ()) or packing or filtering or interlace > 1:
            raise DamagedError("the image header (IHDR) holds values that PNG does not know")
        return width, height, depth, kind, interlace == 1

    def _chunks(self) -> Iterator[tuple[bytes, int, int]]:
        """Name, start and end of each chunk's data, its checksum checked."""
        data, view, at = self._data, memoryview(self._data), len(PNG_SIGNATURE)
        wrong = 0
        for _ in range(self._chunk_limit):
            if at + 12 > len(data):
                self._problem(ENDS_EARLY)
                break
            size = int.from_bytes(data[at : at + 4], "big")
            name, start, end = data[at + 4 : at + 8], at + 8, at + 8 + size
            if not name.isalpha() or size > LARGEST_SIDE:
                self._problem(f"the file is damaged at byte {at:,}: no chunk begins there")
                break
            if end + 4 > len(data):
                self._problem(ENDS_EARLY)
                break
            if zlib.crc32(view[at + 4 : end]) != int.from_bytes(data[end : end + 4], "big"):
                wrong += 1
                if wrong == 1:
                    self._problem(
                        f"the checksum of the {name.decode('ascii', 'replace')} chunk is wrong: "
                        "bytes were changed after the file was written"
                    )
            yield name, start, end
            at = end + 4
            if name == b"IEND":
                if at < len(data):
                    self._problem(bytes_behind(len(data) - at))
                break
        else:
            raise DamagedError(f"the file is cut into more than {self._chunk_limit:,} chunks")

    def _check_order(self, name: bytes, previous: bytes) -> None:
        if name == b"IHDR" and previous:
            self._problem("a second picture begins within the file")
        if name == b"IDAT" and b"IDAT" in self._seen and previous != b"IDAT":
            self._problem("the picture data is interrupted by other chunks")
        if name == b"PLTE" and b"IDAT" in self._seen and self._kind == _PALETTE:
            self._problem("the color table stands behind the picture data")
        if name not in _CRITICAL and name[:1].isupper():
            # Section 14.1: what a program does not know there, it may not leave out.
            self._problem("the file needs an extension of PNG that programs do not know")

    def _too_late(self, name: bytes) -> bool:
        return (name in _BEFORE_DATA and b"IDAT" in self._seen) or (
            name in _BEFORE_PALETTE and b"PLTE" in self._seen
        )

    def _check_pixels(self) -> None:
        """Count the rows that the picture data holds, unless there are too many to decode."""
        if self._width * self._height > self._pixel_limit:
            return
        bits = self._depth * _SAMPLES[self._kind]
        size = png_data.unpacked_size(self._width, self._height, bits, interlaced=self._interlaced)
        try:
            if not png_data.holds(self._data, self._pixel_places, size):
                self._problem(ENDS_EARLY)
        except zlib.error:
            self._problem("the picture data is damaged")

    def _take(self, name: bytes, start: int, end: int) -> None:
        """Note what one chunk says; chunks of a wrong size say nothing."""
        size = end - start
        numbers = self._data[start : min(end, start + 32)]
        match name:
            case b"pHYs" if size == 9:
                self._densities = (_density(numbers),)
            case b"tRNS":
                self._take_transparency(self._data[start : min(end, start + 257)])
            case b"PLTE" if self._kind == _PALETTE:
                self._colors = size // 3
                if size % 3 or not 0 < size <= 768:
                    self._problem("the color table is damaged")
            case b"sRGB" if size == 1:
                self._intent = numbers[0]
            case b"gAMA" if size == 4 and any(numbers):
                self._gamma = int.from_bytes(numbers, "big") / _PER_UNIT
            case b"cHRM" if size == 32:
                values = struct.unpack(">8I", numbers)
                self._chromaticities = tuple(value / _PER_UNIT for value in values)
            case b"cICP" if size == 4:
                self._cicp = (numbers[0], numbers[1], numbers[2], numbers[3])
            case b"iCCP":
                self._take_profile(start, end)
            case b"caBX":
                self._previews = pictures_in_assertions(
                    self._allowance.take(self._data, start, end)
                )
            case b"eXIf":
                self._metadata.take_exif(start, end)
            case b"iTXt" | b"zTXt" | b"tEXt":
                try:
                    self._metadata.take_text(name, start, end)
                except UnpackError as error:
                    self._problem(f"the metadata in the {name.decode()} chunk {error}")
            case b"acTL" if size == 8:
                self._claimed_frames = int.from_bytes(numbers[:4], "big")
            case b"fcTL" | b"fdAT":
                self._take_frame(name, numbers, size)

    def _take_transparency(self, stated: bytes) -> None:
        """Note a see-through color, or the opacity of entries of the color table (11.3.1.1).

        Some readers ignore the chunk where its size is wrong, and some do not.
        """
        sizes = {0: (2,), 2: (6,), _PALETTE: range(1, self._colors + 1)}.get(self._kind, ())
        if len(stated) not in sizes:
            self._problem("the transparency (tRNS) is damaged")
        # A color table may state that every entry is opaque.
        self._transparent = self._kind != _PALETTE or bool(stated.strip(b"\xff"))

    def _take_profile(self, start: int, end: int) -> None:
        """Keep the profile of iCCP: a name, a zero byte, method 0, a zlib stream (11.3.2.3)."""
        name_end = self._data.find(b"\0", start, min(end, start + 80))
        if name_end < 0 or self._data[name_end + 1 : name_end + 2] != b"\0":
            self._icc_problem = "the color profile has no readable heading"
            return
        try:
            self._icc = self._allowance.inflate_profile(memoryview(self._data)[name_end + 2 : end])
        except UnpackError as error:
            self._icc_problem = f"the color profile {error}"

    def _take_frame(self, name: bytes, numbers: bytes, size: int) -> None:
        """Count a frame of an animation and check its place and order (11.3.6)."""
        if self._claimed_frames is None:
            return
        if int.from_bytes(numbers[:4], "big") != self._sequence or size < 4:
            self._problem("the frames of the animation are out of order")
        self._sequence += 1
        if name == b"fdAT":
            return
        self._default_is_apart |= not self._frames and b"IDAT" in self._seen
        self._frames += 1
        if size != 26:
            self._problem("a frame of the animation is damaged")
            return
        width, height, left, top = struct.unpack_from(">IIII", numbers, 4)
        if not (width and height and left + width <= self._width and top + height <= self._height):
            self._problem("a frame of the animation reaches outside the picture")

    def _frame_count(self) -> int:
        if self._claimed_frames is None:
            return 1
        if self._claimed_frames != self._frames:
            self._problem(
                f"the animation claims {self._claimed_frames:,} frames and holds {self._frames:,}"
            )
        # One frame behind another default image makes two pictures, of which each program shows one.
        return max(self._frames, 1 + (self._frames == 1 and self._default_is_apart))

    def _problem(self, sentence: str) -> None:
        if sentence not in self._problems:
            self._problems.append(sentence)


def _density(numbers: bytes) -> Density:
    """Pixels per inch of a pHYs chunk; unit 1 is the meter, 0 an aspect ratio only (11.3.4.3)."""
    x, y, unit = struct.unpack(">IIB", numbers)
    if unit != 1:
        return Density(place="pHYs", x=None, y=None)
    return Density(
        place="pHYs",
        x=x * METERS_PER_INCH or None,
        y=y * METERS_PER_INCH or None,
    )
