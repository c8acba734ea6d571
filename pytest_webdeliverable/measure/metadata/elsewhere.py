"""Metadata outside its usual place: in another segment, in an embedded picture, behind a block of its kind.

Forgiving programs search a file for the marks that metadata begin with, so that place data must be
looked for in the same way. Marks: "Exif" and a zero byte before a TIFF structure (CIPA DC-008, 4.7.2),
the namespace that every XMP packet declares (ISO 16684-1, 7), the image resource of IPTC-IIM
("8BIM", number 0x0404). What is compressed or encrypted is not seen, nor what stands among the coded data
of a JPEG, which is a picture to every program.
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
"""Most of a packet that is read; those of editors with a long history reach some 100 kB."""
_IPTC_MARK: Final = b"8BIM\4\4"
_IPTC_START: Final = 0x1C
"""First byte of every IPTC-IIM data set."""
_IPTC_BYTES: Final = MIB // 4
_READ: Final = 4
"""Packets of the header that are looked for in the file, so that none is read twice."""
_NAMES: Final = (b"GPSLatitude", b"GPSLongitude")
"""Names of the position in XMP, which assertions and text chunks of other kinds use as well."""
_EXTENSION: Final = b"http://ns.adobe.com/xmp/extension/"
_EXTENSION_HEAD: Final = 80
"""Bytes before a part of an extended packet, which the JPEG reader puts together."""
_MOST_MARKS: Final = 1000
"""Marks of one kind looked at: a file may consist of them."""
_MOST_PIECES: Final = 64
"""Blocks read of all kinds, and loose ones searched."""
_MOST_BYTES: Final = 4 * MIB
"""Bytes of all blocks read."""


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
    for piece in (data, *loose[:_MOST_PIECES]):
        for mark in _EXIF_MARKS:
            for at in _places(piece, mark, found):
                start = at + len(mark) + 1
                main = header.exif is not None and piece.startswith(header.exif, start)
                if piece.startswith(TIFF_SIGNATURES, start) and not main:
                    yield found.exif, piece[start : start + _EXIF_BYTES]
        for at in _places(piece, _IPTC_MARK, found):
            resources = image_resources(piece[at : at + _IPTC_BYTES])
            yield from ((found.iptc, block) for _, block in [next(resources, (0, b""))] if block)
        read = [
            (at, at + len(packet))
            for packet in header.xmp[:_READ]
            if (at := piece.find(packet)) >= 0
        ]
        for start, end in _packets(piece, found):
            if not any(first <= start and end <= last for first, last in read):
                yield found.xmp, piece[start:end]


def _places(data: bytes, mark: bytes, found: Elsewhere) -> Iterator[int]:
    at = data.find(mark)
    for _ in range(_MOST_MARKS):
        if at < 0:
            return
        yield at
        at = data.find(mark, at + len(mark))
    found.too_many |= at >= 0


def _packets(data: bytes, found: Elsewhere) -> Iterator[tuple[int, int]]:
    """Give start and end of the elements that declare the namespace, each up to its end tag."""
    behind = 0
    for at in _places(data, _RDF, found):
        start = data.rfind(b"<", max(behind, at - _TAG_BYTES), at)
        element = _ELEMENT.match(data, start) if start >= 0 else None
        if at < behind or element is None:
            continue
        closed = data.find(b"</" + element[1], at, start + _XMP_BYTES)
        last = data.find(b">", closed) + 1 if closed >= 0 else 0
        behind = last or min(start + _XMP_BYTES, len(data))
        if data.find(_EXTENSION, max(0, start - _EXTENSION_HEAD), start) < 0:
            yield start, behind
