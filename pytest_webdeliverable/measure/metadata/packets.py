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
from pytest_webdeliverable.measure.metadata.exif import Exif, read_exif
from pytest_webdeliverable.measure.metadata.iptc import Iptc, read_iptc
from pytest_webdeliverable.measure.metadata.xmp import Xmp, read_xmp

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.headers.base import Header
    from pytest_webdeliverable.measure.limits import Limits

_PACKETS_READ: Final = 4
"""XMP packets read per file; one is usual, an extended part and a second copy are known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Metadata:
    """Exif, XMP and IPTC-IIM of one file; ``exif`` and ``iptc`` are None where there are none."""

    exif: Exif | None
    xmp: tuple[Xmp, ...]
    iptc: Iptc | None

    @property
    def problems(self) -> list[str]:
        """What could not be read, each sentence once."""
        parts = (self.exif, *self.xmp, self.iptc)
        return list(dict.fromkeys(text for part in parts if part for text in part.problems))


def read_metadata(header: Header, limits: Limits) -> Metadata:
    """Read all metadata the header carries. Never raises.

    XMP and IPTC that sit in tags of the Exif structure are read where the file has no others.
    """
    exif = None if header.exif is None else read_exif(header.exif, limits)
    inner = {} if exif is None else exif.ifd0
    packets = header.xmp or _tag(inner, XMP_PACKET)
    stream = header.iptc or b"".join(_tag(inner, IPTC_STREAM)) or None
    problems = ("the file holds more XMP packets than are read",)
    xmp = [read_xmp(packet, limits) for packet in packets[:_PACKETS_READ]]
    if len(packets) > _PACKETS_READ:
        xmp.append(Xmp(problems=problems))
    return Metadata(
        exif=exif,
        xmp=tuple(xmp),
        iptc=None if stream is None else read_iptc(stream, limits),
    )


def _tag(directory: Directory, tag: int) -> tuple[bytes, ...]:
    value: Value | None = directory.get(tag)
    return (value,) if isinstance(value, bytes) and value else ()
