"""Read the directories of a TIFF file (TIFF 6.0, 1992; sections are named beside) or BigTIFF."""

from __future__ import annotations

import operator
import struct
from dataclasses import replace
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
    pictures_in_assertions,
    previews_in_resources,
    require,
)
from pytest_webdeliverable.measure.headers.tiff_fields import Directory, TiffFile
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits

CM_PER_INCH: Final = 2.54
TIFF_PAGES: Final = 100_000
"""Longest chain of directories followed; 0.1 s."""
TIFF_STRIPS: Final = 1_000_000
"""Most strips or tiles checked; one for each row of a picture a million pixels high."""

_SUBFILE, _WIDTH, _HEIGHT, _BITS, _COMPRESSION, _PHOTOMETRIC = 254, 256, 257, 258, 259, 262
_STRIP_OFFSETS, _SAMPLES, _ROWS_PER_STRIP, _STRIP_COUNTS = 273, 277, 278, 279
_X_RESOLUTION, _Y_RESOLUTION, _PLANAR, _RESOLUTION_UNIT = 282, 283, 284, 296
_TILE_WIDTH, _TILE_HEIGHT, _TILE_OFFSETS, _TILE_COUNTS, _INK_SET = 322, 323, 324, 325, 332
_EXTRA_SAMPLES, _JPEG_OFFSET, _XMP, _IPTC, _RESOURCES, _PROFILE = 338, 513, 700, 33723, 34377, 34675
_ASSERTIONS = 52545
_FOR_METADATA: Final = frozenset(
    {270, 271, 272, 274, 305, 306, 315, 316, 33432, 33922, 34264, 34665, 34853, 50735}
)
"""Description, maker, model, orientation, software, date, artist, computer, copyright, the places of a
map, the directories of Exif and of the place, and the camera's serial number."""
_PALETTE, _YCBCR = 3, 6
_JPEG: Final = frozenset({6, 7})
"""Compressions, the older from section 22, the other from its technical note 2."""
_SCAN: Final = b"\xff\xda"
"""Marker of a scan, which no compressed data holds (T.81, B.1.1.5)."""
_BASELINE_SCANS: Final = 4
_PLANES: Final = 4
"""A scan of a picture of four components may hold them all."""
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
    """Read a whole TIFF file held in memory; size and color are those of its first directory.

    ``frames`` counts the pages, without previews and masks. ``exif`` is the file itself (not a
    copy), since a TIFF is what Exif is made of; None where it has nothing to tell. ``previews`` are
    the JPEGs among its image resources. Raises DamagedError when the file is no TIFF, its first
    directory cannot be read, or it exceeds the limits.
    """
    require(data, "tiff")
    return _Tiff(data, limits).header()


class _Tiff:
    """The facts gathered from the directories of one file."""

    def __init__(self, data: bytes, limits: Limits) -> None:
        self._data = data
        self._limits = limits
        self._scanned = 2 * len(data) + 1
        """Bytes of JPEG data that may be searched; none of it belongs to two strips."""
        self._allowance = Allowance(limits)
        self._problems: list[str] = []
        self._strips_left = TIFF_STRIPS
        self._file = TiffFile(data)
        self._page = self._file.directory(self._file.first, limits.ifd_entries)
        self._later_places: list[int] = []
        self._pages = self._count_pages()

    def header(self) -> Header:
        page = self._page
        width, height = page.value(_WIDTH), page.value(_HEIGHT)
        if not (width and height):
            raise DamagedError("the file does not tell the size of the picture")
        photometric = _photometric(page)
        samples = page.value(_SAMPLES) or 1
        mode = _MODES.get(photometric, "other")
        if mode == "cmyk" and (samples < 4 or page.value(_INK_SET) == 2):
            mode = "other"
        self._check_data(page)
        icc, icc_problem = self._profile()
        xmp, resources = self._bytes(_XMP), self._bytes(_RESOURCES)
        header = Header(
            format="tiff",
            width=width,
            height=height,
            mode=mode,
            bits=8 if photometric == _PALETTE else _depth(page),
            alpha=_has_alpha(page, photometric, samples),
            indexed=photometric == _PALETTE,
            frames=self._pages,
            densities=_densities(page),
            icc=icc,
            icc_problem=icc_problem,
            exif=self._data if self._later_places or _FOR_METADATA & page.tags else None,
            xmp=(xmp,) if xmp else (),
            iptc=self._iptc() or iptc_in_resources(resources),
            previews=(
                *previews_in_resources(resources),
                *pictures_in_assertions(self._bytes(_ASSERTIONS)),
            ),
        )
        self._check_later_pages()
        if self._file.cut:
            self._problem(ENDS_EARLY)
        return replace(header, problems=tuple(self._problems))

    def _count_pages(self) -> int:
        """Follow the chain of directories, reading only what leads on; at least 1."""
        file = self._file
        at, seen, pages = file.first, set[int](), 0
        while at:
            if at in seen:
                self._problem("the pages of the file lead back in a circle")
                break
            if len(seen) == TIFF_PAGES:
                raise DamagedError(f"the file has more than {TIFF_PAGES:,} pages")
            seen.add(at)
            try:
                count = file.number(at, file.count_size)
                first = at + file.count_size
                following = file.number(first + count * file.entry_size, file.offset_size)
                # Fields stand in the order of their tags, and no tag of use is lower.
                tag = file.number(first, 2) if count else 0
                flags = file.number(first + 4 + file.offset_size, 4) if tag == _SUBFILE else 0
            except DamagedError:
                self._problem(ENDS_EARLY)
                break
            # Bit 0 marks a reduced copy, bit 2 a transparency mask (section 8, NewSubfileType).
            pages += not flags & 0b101
            if at != file.first:
                self._later_places.append(at)
            at = following
        return max(pages, 1)

    def _bytes(self, tag: int) -> bytes:
        return self._allowance.take(self._data, *self._page.place(tag))

    def _profile(self) -> tuple[bytes | None, str | None]:
        if _PROFILE not in self._page.tags:
            return None, None
        start, end = self._page.place(_PROFILE)
        if start == end:
            return None, "the color profile is incomplete"
        return self._allowance.profile(self._data, start, end)

    def _iptc(self) -> bytes | None:
        """IPTC data; where it is stored as 4-byte numbers, some writers turn their bytes round."""
        stored = self._bytes(_IPTC)
        if stored and stored[0] != 0x1C and stored[3:4] == b"\x1c" and len(stored) % 4 == 0:
            count = len(stored) // 4
            return struct.pack(f">{count}I", *struct.unpack(f"<{count}I", stored))
        return stored or None

    def _check_later_pages(self) -> None:
        """Check the data of the pages behind the first, as far as the limits allow."""
        left = self._limits.ifd_entries
        for place in self._later_places:
            try:
                page = self._file.directory(place, self._limits.ifd_entries)
            except DamagedError:
                self._problem("a page of the file is damaged")
                continue
            left -= page.count
            if left < 0 or self._strips_left < 0:
                return
            self._check_data(page)

    def _check_data(self, page: Directory) -> None:
        """Check that the strips or tiles of a page are all there and lie within the file."""
        width, height = page.value(_WIDTH) or 0, page.value(_HEIGHT) or 0
        samples = page.value(_SAMPLES) or 1
        planes = samples if page.value(_PLANAR) == 2 else 1
        tile_width, tile_height = page.value(_TILE_WIDTH), page.value(_TILE_HEIGHT)
        if _TILE_OFFSETS in page.tags and 0 in {tile_width, tile_height}:
            self._problem("the file gives its tiles a size of 0")
            return
        if _TILE_OFFSETS in page.tags and tile_width and tile_height:
            offsets_tag, counts_tag = _TILE_OFFSETS, _TILE_COUNTS
            needed = -(-width // tile_width) * -(-height // tile_height) * planes
        elif _STRIP_OFFSETS in page.tags:
            offsets_tag, counts_tag = _STRIP_OFFSETS, _STRIP_COUNTS
            rows = page.value(_ROWS_PER_STRIP) or height or 1
            needed = -(-height // rows) * planes
        else:
            if _JPEG_OFFSET not in page.tags:
                self._problem("the file holds no picture data")
            return
        if needed > TIFF_STRIPS:
            raise DamagedError(f"the picture is cut into {needed:,} strips or tiles")
        self._strips_left -= needed
        if self._strips_left < 0:
            return
        offsets = page.values(offsets_tag, needed)
        counts = page.values(counts_tag, needed) or (0,) * len(offsets)
        if page.value(_COMPRESSION) in _JPEG and needed:
            self._check_passes(offsets, counts, width * height // needed)
        if page.value(_COMPRESSION) in {None, 1} and _photometric(page) != _YCBCR:
            # Readers work out the size of bare pixels, so that too large a count does no harm.
            bare = -(-width * samples * _depth(page) // 8) * height
            counts = tuple(min(count, bare) for count in counts)
        ends = map(operator.add, offsets, counts)
        if len(offsets) < needed or max(ends, default=0) > len(self._data):
            self._problem(ENDS_EARLY)
        elif sum(counts) > 2 * len(self._data) + self._limits.decode_bytes:
            # Decoders copy what a strip claims, some a bit at a time.
            raise DamagedError("the strips or tiles of the picture lie over each other")

    def _check_passes(self, offsets: tuple[int, ...], counts: tuple[int, ...], each: int) -> None:
        """Refuse JPEG data whose scans cost too much; each goes over all pixels of its strip or tile."""
        data, limits = self._data, self._limits
        known: dict[tuple[int, int], int] = {}
        passes = 0
        for place in zip(offsets, counts, strict=False):
            if place not in known:
                self._scanned -= place[1]
                known[place] = data.count(_SCAN, place[0], sum(place)) if self._scanned > 0 else 0
            # In baseline JPEG, each of the components may have a scan of its own.
            passes += max(0, known[place] - _BASELINE_SCANS)
        if self._scanned <= 0:
            raise DamagedError("the strips or tiles of the picture lie over each other")
        if passes * each > limits.jpeg_scan_pixels // _PLANES:
            raise DamagedError("the picture comes in more passes than can be decoded")

    def _problem(self, sentence: str) -> None:
        if sentence not in self._problems:
            self._problems.append(sentence)


def _photometric(page: Directory) -> int:
    stated = page.value(_PHOTOMETRIC)
    if stated is not None:
        return stated
    return 2 if (page.value(_SAMPLES) or 1) >= 3 else 1


def _depth(page: Directory) -> int:
    """Bits of the deepest sample; 1 where nothing is stated (section 8, BitsPerSample)."""
    return max(page.values(_BITS, 16), default=1) or 1


def _has_alpha(page: Directory, photometric: int, samples: int) -> bool:
    """Extra samples 1 and 2 are alpha (section 18); a bare fourth one beside RGB is, too."""
    extra = page.values(_EXTRA_SAMPLES, samples)
    return bool({1, 2} & set(extra)) or (not extra and photometric == 2 and samples == 4)


def _densities(page: Directory) -> tuple[Density, ...]:
    if not {_X_RESOLUTION, _Y_RESOLUTION} & page.tags:
        return ()
    # Unit 1 is none, 2 the inch and what holds when nothing is said, 3 the centimeter.
    scale = {None: 1.0, 2: 1.0, 3: CM_PER_INCH}.get(page.value(_RESOLUTION_UNIT))
    x, y = (
        value * scale if scale is not None and value is not None else None
        for value in (page.measure(_X_RESOLUTION), page.measure(_Y_RESOLUTION))
    )
    return (Density(place="TIFF", x=x, y=y),)
