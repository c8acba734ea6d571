"""Metadata outside its usual place: in another segment, in an embedded picture, behind a block of its kind.

Forgiving programs search a file for the marks that metadata begin with, so that place data must be
looked for in the same way. Marks: "Exif" and a zero byte before a TIFF structure (CIPA DC-008, 4.7.2),
the namespace that every XMP packet declares (ISO 16684-1, 7), the image resource of IPTC-IIM
("8BIM", number 0x0404). What is compressed or encrypted is not seen.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.headers.reading import image_resources
from pytest_webdeliverable.measure.headers.sniff import TIFF_SIGNATURES
from pytest_webdeliverable.measure.limits import MIB

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pytest_webdeliverable.measure.headers.base import Header

_EXIF_MARKS: Final = (b"Exif\0", b"EXIF\0")
_EXIF_BYTES: Final = 64 * 1024
"""Most of a block that is read; a JPEG segment holds no more."""
_RDF: Final = b"http://www.w3.org/1999/02/22-rdf-syntax-ns#"
_ELEMENT: Final = re.compile(rb"<([A-Za-z_][\w:.-]{0,63})[\s>]")
_TAG_BYTES: Final = 16 * 1024
"""Farthest that the namespace may stand behind the beginning of its element."""
_XMP_BYTES: Final = MIB
_IPTC_MARK: Final = b"8BIM\4\4"
_IPTC_START: Final = 0x1C
"""First byte of every IPTC-IIM data set."""
_IPTC_BYTES: Final = MIB
_NAMES: Final = (b"GPSLatitude", b"GPSLongitude")
"""Names of the position in XMP, which assertions and text chunks of other kinds use as well."""
_MOST_PIECES: Final = 64
_MOST_BYTES: Final = 4 * MIB


@dataclass(slots=True)
class Elsewhere:
    """Blocks beside those that the header holds; ``too_many`` where there are more than are kept."""

    exif: list[bytes] = field(default_factory=list)
    xmp: list[bytes] = field(default_factory=list)
    iptc: list[bytes] = field(default_factory=list)
    names_gps: bool = False
    """A GPS position is named outside any packet."""
    too_many: bool = False


def search(data: bytes, header: Header, loose: tuple[bytes, ...] = ()) -> Elsewhere:
    """Search a whole file, and ``loose`` blocks taken out of it, for more metadata. Never raises."""
    found = Elsewhere()
    left = _MOST_BYTES
    known = {header.exif, header.iptc, *header.xmp}
    for kept, block in _blocks(data, header, loose, found):
        if block in known:
            continue
        known.add(block)
        left -= len(block)
        if left < 0 or len(found.exif) + len(found.xmp) + len(found.iptc) >= _MOST_PIECES:
            found.too_many = True
            break
        kept.append(block)
    packets = (*header.xmp, *found.xmp)
    found.names_gps = any(
        data.count(name) > sum(packet.count(name) for packet in packets) for name in _NAMES
    )
    return found


def _blocks(
    data: bytes, header: Header, loose: tuple[bytes, ...], found: Elsewhere
) -> Iterator[tuple[list[bytes], bytes]]:
    """Each block with the list that it belongs to; the marks in a file are met one after the other."""
    for block in loose:
        if block.startswith(TIFF_SIGNATURES):
            yield found.exif, block
        elif block[:1] == bytes((_IPTC_START,)):
            yield found.iptc, block
    for piece in (data, *loose):
        for mark in _EXIF_MARKS:
            for at in _places(piece, mark):
                start = at + len(mark) + 1
                main = header.exif is not None and piece.startswith(header.exif, start)
                if piece.startswith(TIFF_SIGNATURES, start) and not main:
                    yield found.exif, piece[start : start + _EXIF_BYTES]
        for at in _places(piece, _IPTC_MARK):
            resources = image_resources(piece[at : at + _IPTC_BYTES])
            yield from ((found.iptc, block) for _, block in [next(resources, (0, b""))] if block)
        for packet in _packets(piece):
            if not any(packet in other for other in header.xmp):
                yield found.xmp, packet


def _places(data: bytes, mark: bytes) -> Iterator[int]:
    at = data.find(mark)
    while at >= 0:
        yield at
        at = data.find(mark, at + len(mark))


def _packets(data: bytes) -> Iterator[bytes]:
    """Give the elements that declare the namespace, each up to its end tag."""
    at = data.find(_RDF)
    while at >= 0:
        start = data.rfind(b"<", max(0, at - _TAG_BYTES), at)
        element = _ELEMENT.match(data, start) if start >= 0 else None
        end = at + len(_RDF)
        if element is not None:
            closed = data.find(b"</" + element[1], end, start + _XMP_BYTES)
            last = data.find(b">", closed) + 1 if closed >= 0 else 0
            end = last or min(start + _XMP_BYTES, len(data))
            yield data[start:end]
        at = data.find(_RDF, end)
