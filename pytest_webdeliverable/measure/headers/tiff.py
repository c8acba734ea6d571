"""Read the directories of a TIFF file (TIFF 6.0, 1992; sections are named beside) or BigTIFF."""

from __future__ import annotations

import math
import operator
import struct
from dataclasses import dataclass
from typing import Final

from pytest_webdeliverable.measure.headers.base import (
    ColorMode,
    DamagedError,
    Density,
    Header,
)
from pytest_webdeliverable.measure.headers.reading import (
    ENDS_EARLY,
    Allowance,
    iptc_in_resources,
    previews_in_resources,
    require,
)
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits

CM_PER_INCH: Final = 2.54
TIFF_PAGES: Final = 100_000
"""Longest chain of directories followed; 0.1 s."""
TIFF_STRIPS: Final = 1_000_000
"""Most strips or tiles checked; one for each row of a picture a million pixels high."""

_TYPES: Final = {
    1: "B",
    2: "s",
    3: "H",
    4: "I",
    5: "II",
    6: "b",
    7: "B",
    8: "h",
    9: "i",
    10: "ii",
    11: "f",
    12: "d",
    13: "I",
    16: "Q",
    17: "q",
    18: "Q",
}
"""Field types of section 2 and of BigTIFF, as ``struct`` letters; 5 and 10 are fractions."""
_WHOLE: Final = frozenset({1, 3, 4, 13, 16, 18})
"""Those that are whole numbers without a sign."""
_SUBFILE, _WIDTH, _HEIGHT, _BITS, _COMPRESSION, _PHOTOMETRIC = 254, 256, 257, 258, 259, 262
_STRIP_OFFSETS, _SAMPLES, _ROWS_PER_STRIP, _STRIP_COUNTS = 273, 277, 278, 279
_X_RESOLUTION, _Y_RESOLUTION, _PLANAR, _RESOLUTION_UNIT = 282, 283, 284, 296
_TILE_WIDTH, _TILE_HEIGHT, _TILE_OFFSETS, _TILE_COUNTS, _INK_SET = 322, 323, 324, 325, 332
_EXTRA_SAMPLES, _JPEG_OFFSET, _XMP, _IPTC, _RESOURCES, _PROFILE = 338, 513, 700, 33723, 34377, 34675
_FOR_METADATA: Final = frozenset(
    {270, 271, 272, 274, 305, 306, 315, 316, 33432, 34665, 34853, 50735}
)
"""Description, maker, model, orientation, software, date, artist, computer, copyright, the
directories of Exif and of the place, and the camera's serial number."""
_MODES: Final[dict[int, ColorMode]] = {
    0: "gray",
    1: "gray",
    2: "rgb",
    3: "rgb",
    4: "gray",
    5: "cmyk",
    6: "rgb",
    8: "lab",
    9: "lab",
    10: "lab",
}
"""Photometric interpretations: white or black is zero, RGB, palette, mask, separated, YCbCr (which
is RGB once decoded), three kinds of Lab. Section 8 and the supplements."""


def read(data: bytes, limits: Limits = DEFAULT_LIMITS) -> Header:
    """Read a whole TIFF file held in memory; size and colour are those of its first directory.

    ``frames`` counts the pages, without previews and masks. ``exif`` is the file itself (not a
    copy), since a TIFF is what Exif is made of; None where it has nothing to tell. ``previews`` are
    the JPEGs among its image resources. Raises DamagedError when the file is no TIFF, its first
    directory cannot be read, or it exceeds the limits.
    """
    require(data, "tiff")
    return _Tiff(data, limits).header()


@dataclass(frozen=True, slots=True)
class _Entry:
    """One field of a directory: its type and count, and where its values stand."""

    kind: int
    count: int
    at: int


class _Tiff:
    """The facts gathered from the directories of one file."""

    def __init__(self, data: bytes, limits: Limits) -> None:
        self._data = data
        self._limits = limits
        self._allowance = Allowance(limits)
        self._problems: list[str] = []
        self._order = "<" if data[:2] == b"II" else ">"
        self._big = data[2:4] in {b"+\0", b"\0+"}
        # Sizes in bytes of a directory's count, of one entry, of an offset, of its first offset.
        self._sizes = (8, 20, 8) if self._big else (2, 12, 4)
        first = self._number(8, 8) if self._big else self._number(4, 4)
        self._first = self._entries(first)
        self._pages = self._count_pages(first)

    def header(self) -> Header:
        width, height = self._value(_WIDTH), self._value(_HEIGHT)
        if not (width and height):
            raise DamagedError("the file does not tell the size of the picture")
        photometric = self._photometric()
        samples = self._value(_SAMPLES) or 1
        mode = _MODES.get(photometric, "other")
        if mode == "cmyk" and (samples < 4 or self._value(_INK_SET) == 2):
            mode = "other"
        self._check_data(width, height, samples)
        icc, icc_problem = self._profile()
        resources = self._bytes(_RESOURCES)
        return Header(
            format="tiff",
            width=width,
            height=height,
            mode=mode,
            bits=8 if photometric == 3 else max(self._values(_BITS, 16), default=1),
            alpha=self._has_alpha(photometric, samples),
            indexed=photometric == 3,
            frames=self._pages,
            densities=self._densities(),
            icc=icc,
            icc_problem=icc_problem,
            exif=self._data if self._pages > 1 or _FOR_METADATA & self._first.keys() else None,
            xmp=tuple(packet for packet in [self._bytes(_XMP)] if packet),
            iptc=self._iptc() or iptc_in_resources(resources),
            previews=previews_in_resources(resources),
            problems=tuple(self._problems),
        )

    def _number(self, at: int, size: int) -> int:
        """Unsigned number in the file's byte order; DamagedError where the file ends before it."""
        if at + size > len(self._data):
            raise DamagedError(ENDS_EARLY)
        return int.from_bytes(self._data[at : at + size], "little" if self._order == "<" else "big")

    def _entries(self, at: int) -> dict[int, _Entry]:
        """Fields of the directory at a place, by tag; of repeated tags the first counts."""
        count_size, entry_size, offset_size = self._sizes
        count = self._number(at, count_size)
        if count > self._limits.ifd_entries:
            raise DamagedError(f"the file's directory claims {count:,} entries")
        entries: dict[int, _Entry] = {}
        for place in range(at + count_size, at + count_size + count * entry_size, entry_size):
            tag, kind = self._number(place, 2), self._number(place + 2, 2)
            many = self._number(place + 4, offset_size)
            values = place + 4 + offset_size
            if kind in _TYPES:
                inline = many * struct.calcsize(f"={_TYPES[kind]}") <= offset_size
                where = values if inline else self._number(values, offset_size)
                entries.setdefault(tag, _Entry(kind, many, where))
        return entries

    def _count_pages(self, at: int) -> int:
        """Follow the chain of directories, reading only what leads on; at least 1."""
        count_size, entry_size, offset_size = self._sizes
        seen: set[int] = set()
        pages = 0
        while at and len(seen) < TIFF_PAGES:
            if at in seen:
                self._problem("the pages of the file lead back in a circle")
                break
            seen.add(at)
            try:
                count = self._number(at, count_size)
                after = at + count_size + count * entry_size
                following = self._number(after, offset_size)
                first = at + count_size
                # Fields stand in the order of their tags, and no tag of use is lower.
                kind = self._number(first, 2) if count else 0
                flags = self._number(first + 4 + offset_size, 4) if kind == _SUBFILE else 0
            except DamagedError:
                self._problem(ENDS_EARLY)
                break
            # Bit 0 marks a reduced copy, bit 2 a transparency mask (section 8, NewSubfileType).
            pages += not flags & 0b101
            at = following
        if at and len(seen) >= TIFF_PAGES:
            raise DamagedError(f"the file has more than {TIFF_PAGES:,} pages")
        return max(pages, 1)

    def _values(self, tag: int, most: int) -> tuple[int, ...]:
        """Whole numbers of a field, at most ``most`` of them; empty where they are missing."""
        entry = self._first.get(tag)
        if entry is None or entry.kind not in _WHOLE:
            return ()
        count = min(entry.count, most)
        layout = f"{self._order}{count}{_TYPES[entry.kind]}"
        if entry.at + struct.calcsize(layout) > len(self._data):
            self._problem(ENDS_EARLY)
            return ()
        return struct.unpack_from(layout, self._data, entry.at)

    def _value(self, tag: int) -> int | None:
        return next(iter(self._values(tag, 1)), None)

    def _place(self, tag: int) -> tuple[int, int]:
        """Start and end of a field's values; (0, 0) where they are missing or cut off."""
        entry = self._first.get(tag)
        if entry is None:
            return 0, 0
        end = entry.at + entry.count * struct.calcsize(f"={_TYPES[entry.kind]}")
        if end > len(self._data):
            self._problem(ENDS_EARLY)
            return 0, 0
        return entry.at, end

    def _bytes(self, tag: int) -> bytes:
        """Raw bytes of a field whatever its type, empty where they are missing or cut off."""
        return self._allowance.take(self._data, *self._place(tag))

    def _photometric(self) -> int:
        stated = self._value(_PHOTOMETRIC)
        if stated is not None:
            return stated
        return 2 if (self._value(_SAMPLES) or 1) >= 3 else 1

    def _has_alpha(self, photometric: int, samples: int) -> bool:
        """Extra samples 1 and 2 are alpha (section 18); a bare fourth one beside RGB is, too."""
        extra = self._values(_EXTRA_SAMPLES, samples)
        return bool({1, 2} & set(extra)) or (not extra and photometric == 2 and samples == 4)

    def _densities(self) -> tuple[Density, ...]:
        if not {_X_RESOLUTION, _Y_RESOLUTION} & self._first.keys():
            return ()
        # Unit 1 is none, 2 the inch and what holds when nothing is said, 3 the centimetre.
        unit = self._value(_RESOLUTION_UNIT)
        scale = {None: 1.0, 2: 1.0, 3: CM_PER_INCH}.get(unit)
        x, y = (
            value * scale if scale is not None and value is not None else None
            for value in (self._fraction(_X_RESOLUTION), self._fraction(_Y_RESOLUTION))
        )
        return (Density(place="TIFF", x=x, y=y),)

    def _fraction(self, tag: int) -> float | None:
        """Positive value of a rational (or float) field, None for 0/0 and the like."""
        entry = self._first.get(tag)
        if entry is None or not entry.count or entry.kind not in {3, 4, 5, 11, 12}:
            return None
        layout = self._order + _TYPES[entry.kind]
        if entry.at + struct.calcsize(layout) > len(self._data):
            self._problem(ENDS_EARLY)
            return None
        top, bottom = (*struct.unpack_from(layout, self._data, entry.at), 1)[:2]
        value = top / bottom if bottom else math.nan
        return value if math.isfinite(value) and value > 0 else None

    def _profile(self) -> tuple[bytes | None, str | None]:
        if _PROFILE not in self._first:
            return None, None
        start, end = self._place(_PROFILE)
        if start == end:
            return None, "the colour profile is incomplete"
        return self._allowance.profile(self._data, start, end)

    def _iptc(self) -> bytes | None:
        """IPTC data; where it is stored as 4-byte numbers, some writers turn their bytes round."""
        stored = self._bytes(_IPTC)
        if stored and stored[0] != 0x1C and stored[3:4] == b"\x1c" and len(stored) % 4 == 0:
            count = len(stored) // 4
            return struct.pack(f">{count}I", *struct.unpack(f"<{count}I", stored))
        return stored or None

    def _check_data(self, width: int, height: int, samples: int) -> None:
        """Check that the strips or tiles are there in number and lie within the file."""
        planes = samples if self._value(_PLANAR) == 2 else 1
        tile_width, tile_height = self._value(_TILE_WIDTH), self._value(_TILE_HEIGHT)
        if _TILE_OFFSETS in self._first and tile_width and tile_height:
            offsets_tag, counts_tag = _TILE_OFFSETS, _TILE_COUNTS
            needed = -(-width // tile_width) * -(-height // tile_height) * planes
        elif _STRIP_OFFSETS in self._first:
            offsets_tag, counts_tag = _STRIP_OFFSETS, _STRIP_COUNTS
            rows = self._value(_ROWS_PER_STRIP) or height
            needed = -(-height // rows) * planes
        else:
            if _JPEG_OFFSET not in self._first:
                self._problem("the file holds no picture data")
            return
        if needed > TIFF_STRIPS:
            raise DamagedError(f"the picture is cut into {needed:,} strips or tiles")
        offsets = self._values(offsets_tag, needed)
        counts = self._values(counts_tag, needed) or (0,) * len(offsets)
        if self._value(_COMPRESSION) in {None, 1} and self._photometric() != 6:
            # Readers work out the size of bare pixels, so that too large a count does no harm.
            row = -(-width * samples * max(self._values(_BITS, 16), default=1) // 8)
            counts = tuple(min(count, row * height) for count in counts)
        ends = map(operator.add, offsets, counts)
        if len(offsets) < needed or max(ends, default=0) > len(self._data):
            self._problem(ENDS_EARLY)

    def _problem(self, sentence: str) -> None:
        if sentence not in self._problems:
            self._problems.append(sentence)
