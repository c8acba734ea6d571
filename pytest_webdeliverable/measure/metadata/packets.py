"""The three kinds of metadata of one file, each read once by its own bounded reader."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.metadata.directories import (
    IPTC_STREAM,
    XMP_PACKET,
    Directory,
    Value,
)
from pytest_webdeliverable.measure.metadata.elsewhere import search
from pytest_webdeliverable.measure.metadata.exif import Exif, read_exif
from pytest_webdeliverable.measure.metadata.iptc import Iptc, read_iptc
from pytest_webdeliverable.measure.metadata.xmp import Xmp, read_xmp

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.headers.base import Header
    from pytest_webdeliverable.measure.limits import Limits

_PACKETS_READ: Final = 4
"""XMP packets read per file; one is usual, an extended part and a second copy are known."""
_RESOURCES: Final = 0x8649
"""Tag of image resources (TIFF 6.0 lists it as a private tag)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Metadata:
    """Exif, XMP and IPTC-IIM of one file; ``exif`` and ``iptc`` are None where there are none."""

    exif: Exif | None
    xmp: tuple[Xmp, ...]
    iptc: Iptc | None
    more: tuple[Metadata, ...] = ()
    """Metadata outside its usual place, block by block; they count for privacy alone."""
    names_gps: bool = False
    """A GPS position is named outside all that was read."""
    unread: bool = False
    """There is more than is read."""

    @property
    def problems(self) -> list[str]:
        """What could not be read, each sentence once."""
        parts = (self.exif, *self.xmp, self.iptc)
        return list(dict.fromkeys(text for part in parts if part for text in part.problems))


def read_metadata(header: Header, limits: Limits, data: bytes = b"") -> Metadata:
    """Read all metadata the header carries, and what else is in the file's ``data``. Never raises.

    XMP and IPTC that sit in tags of the Exif structure are read where the file has no others.
    """
    exif = None if header.exif is None else read_exif(header.exif, limits)
    inner = {} if exif is None else exif.ifd0
    packets = header.xmp or _tag(inner, XMP_PACKET)
    stream = header.iptc or b"".join(_tag(inner, IPTC_STREAM)) or None
    problems = ("the file holds more XMP packets than are read",)
    xmp = [read_xmp(packet, limits) for packet in packets[:_PACKETS_READ]]
    if len(packets) > _PACKETS_READ:
        xmp.append(Xmp(problems=problems, unread=True))
    loose = [*header.loose, *_in_directories(exif)]
    if header.coded is not None:  # most of a JPEG, and most of the time
        data = data[: header.coded[0]] + data[header.coded[1] :]
    elsewhere = search(data, header, tuple(loose))
    return Metadata(
        exif=exif,
        xmp=tuple(xmp),
        iptc=None if stream is None else read_iptc(stream, limits),
        more=(
            *(_only(exif=read_exif(block, limits)) for block in elsewhere.exif),
            *(_only(xmp=(read_xmp(block, limits),)) for block in elsewhere.xmp),
            *(_only(iptc=read_iptc(block, limits)) for block in elsewhere.iptc),
        ),
        names_gps=elsewhere.names_gps,
        unread=elsewhere.too_many,
    )


def _only(
    *, exif: Exif | None = None, xmp: tuple[Xmp, ...] = (), iptc: Iptc | None = None
) -> Metadata:
    return Metadata(exif=exif, xmp=xmp, iptc=iptc)


def _in_directories(exif: Exif | None) -> list[bytes]:
    # Packets and streams in any directory; those of the first are read where there are no others.
    if exif is None:
        return []
    places = (exif.ifd0, exif.ifd1, exif.exif, exif.more)
    tags = (XMP_PACKET, IPTC_STREAM, _RESOURCES)
    return [block for place in places for tag in tags for block in _tag(place, tag)]


def _tag(directory: Directory, tag: int) -> tuple[bytes, ...]:
    value: Value | None = directory.get(tag)
    return (value,) if isinstance(value, bytes) and value else ()
