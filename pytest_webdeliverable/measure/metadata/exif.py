"""What an Exif structure, or a whole TIFF file, states about its picture.

Source: CIPA DC-008 (Exif 2.32 and 3.0) for the tags; directories are read in ``directories``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.headers.base import Density
from pytest_webdeliverable.measure.metadata.directories import (
    Directory,
    DirectoryReader,
    Rational,
    Value,
)

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.limits import Limits

WIDTH: Final = 0x0100
HEIGHT: Final = 0x0101
COMPRESSION: Final = 0x0103
PHOTOMETRIC: Final = 0x0106
STRIP_OFFSET: Final = 0x0111
STRIP_BYTES: Final = 0x0117
ORIENTATION: Final = 0x0112
X_RESOLUTION: Final = 0x011A
Y_RESOLUTION: Final = 0x011B
RESOLUTION_UNIT: Final = 0x0128
PREVIEW_OFFSET: Final = 0x0201
PREVIEW_LENGTH: Final = 0x0202
_FURTHER: Final = 8
"""Previews kept beside that of IFD1; cameras write two or three."""

_UNITS_PER_INCH: Final = {2: 1.0, 3: 2.54}  # ResolutionUnit: 2 inch, 3 centimeter; 1 is "none"
_UNIT_DEFAULT: Final = 2  # inch (TIFF 6.0, ResolutionUnit)
_RGB: Final = 2  # PhotometricInterpretation, TIFF 6.0
_UNCOMPRESSED: Final = 1  # Compression, TIFF 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Exif:
    """Values by directory and tag number.

    ``gps`` is None where no GPS directory is announced, and empty where one is announced that holds
    nothing or cannot be read. ``more`` gathers the directories behind IFD1 and sub-directories.
    ``thumbnail`` is the picture of IFD1: JPEG bytes, or a PPM made of an uncompressed one; it is
    cut where the data end. ``thumbnails`` are those of the directories behind it and of
    sub-directories. ``unread`` says that there is more than the limits allow to read.
    """

    ifd0: Directory
    ifd1: Directory
    exif: Directory
    gps: Directory | None
    interop: Directory
    more: Directory
    thumbnail: bytes | None
    problems: tuple[str, ...]
    thumbnails: tuple[bytes, ...] = ()
    unread: bool = False

    @property
    def orientation(self) -> int | None:
        """How the picture is turned for viewing, 1 to 8; None where nothing valid is stated."""
        value = self.ifd0.get(ORIENTATION)
        return value if isinstance(value, int) and 1 <= value <= 8 else None

    @property
    def density(self) -> Density | None:
        """Pixels per inch of the main picture; None where no resolution tag is there."""
        if X_RESOLUTION not in self.ifd0 and Y_RESOLUTION not in self.ifd0:
            return None
        unit = self.ifd0.get(RESOLUTION_UNIT, _UNIT_DEFAULT)
        factor = _UNITS_PER_INCH.get(unit) if isinstance(unit, int) else None
        return Density(
            place="Exif",
            x=_per_inch(self.ifd0.get(X_RESOLUTION), factor),
            y=_per_inch(self.ifd0.get(Y_RESOLUTION), factor),
        )


def read_exif(data: bytes, limits: Limits) -> Exif:
    """Read ``data``, which starts at the byte-order mark of a TIFF structure. Never raises.

    Costs at most ``limits.ifd_entries`` entries and ``limits.metadata_bytes`` bytes of values; what
    is beyond that or broken becomes a sentence in ``problems``.
    """
    reader = DirectoryReader(data, limits)
    reader.run()
    pages = [*reader.pages, {}, {}]
    ifd1 = pages[1]
    for page in pages[2:]:
        reader.more.update((tag, page[tag]) for tag in page.keys() - reader.more.keys())
    return Exif(
        ifd0=pages[0],
        ifd1=ifd1,
        exif=reader.exif,
        gps=reader.gps,
        interop=reader.interop,
        more=reader.more,
        thumbnail=_thumbnail(reader, ifd1),
        problems=tuple(reader.problems),
        thumbnails=_further_thumbnails(reader, [*pages[2:], *reader.subs]),
        unread=reader.unread,
    )


def _per_inch(value: Value | None, factor: float | None) -> float | None:
    # None for 0, 0/0, an unknown unit and what is no number.
    if factor is None:
        return None
    if isinstance(value, Rational):
        number = value.num / value.den if value.den > 0 else 0.0
    elif isinstance(value, int | float):
        number = float(value)
    else:
        return None
    return number * factor if 0 < number < float("inf") else None


def _thumbnail(reader: DirectoryReader, ifd1: Directory) -> bytes | None:
    start, length = ifd1.get(PREVIEW_OFFSET), ifd1.get(PREVIEW_LENGTH)
    if not (isinstance(start, int) and isinstance(length, int)):
        return _uncompressed(reader.data, ifd1)
    if start <= 0 or length <= 0:
        return None
    found = reader.data[start : start + length]
    if len(found) < length:
        reader.problem("the Exif preview reaches beyond the end of the Exif data")
    return found or None


def _further_thumbnails(reader: DirectoryReader, directories: list[Directory]) -> tuple[bytes, ...]:
    found: list[bytes] = []
    for directory in directories:
        if len(found) < _FURTHER and (data := _thumbnail(reader, directory)):
            found.append(data)
    return tuple(found)


def _uncompressed(data: bytes, ifd1: Directory) -> bytes | None:
    # DC-008 also allows a preview of plain RGB bytes; as a PPM it can be opened like the others.
    if ifd1.get(COMPRESSION) != _UNCOMPRESSED or ifd1.get(PHOTOMETRIC) != _RGB:
        return _strip(data, ifd1)
    width, height, start = (ifd1.get(tag) for tag in (WIDTH, HEIGHT, STRIP_OFFSET))
    if not (isinstance(width, int) and isinstance(height, int) and isinstance(start, int)):
        return None
    end = start + width * height * 3
    if min(width, height, start) < 1 or end > len(data):
        return _strip(data, ifd1)
    return b"P6 %d %d 255\n" % (width, height) + data[start:end]


def _strip(data: bytes, ifd1: Directory) -> bytes | None:
    # Pixels that are there in another form, at least JPEG of TIFF and brightness with color differences.
    start, size = (
        value[0] if isinstance(value, tuple) else value
        for value in (ifd1.get(STRIP_OFFSET), ifd1.get(STRIP_BYTES))
    )
    if not (isinstance(start, int) and isinstance(size, int) and start > 0 and size > 0):
        return None
    return data[start : start + size] or None
