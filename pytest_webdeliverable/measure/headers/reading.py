"""What the header readers share: their common sentences, a metadata allowance, safe inflation."""

from __future__ import annotations

import re
import zlib
from itertools import islice
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.sniff import describe, sniff
from pytest_webdeliverable.measure.limits import MIB

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pytest_webdeliverable.measure.headers.base import Format
    from pytest_webdeliverable.measure.limits import Limits

ENDS_EARLY: Final = "the file ends before the picture does"

LATE_PROFILE: Final = "the color profile stands too late in the file to be used"

EXIF_PREFIX: Final = b"Exif\0\0"
"""Belongs before Exif data in JPEG only; some writers leave it in PNG, WebP and AVIF as well."""

_IPTC_RESOURCE: Final = 0x0404
"""Number of the image resource block that holds IPTC data (IPTC-IIM in image resources)."""
_PREVIEW_RESOURCES: Final = frozenset({0x0409, 0x040C})
"""Numbers of those that hold a preview, the older with its colors in reverse order."""
_PREVIEW_HEADING: Final = 28
"""Bytes before the JPEG of a preview: sizes and format."""


_EMBEDDED: Final = re.compile(rb"bidb(\0{4}....)?(?=\xff\xd8\xff|\x89PNG)", re.DOTALL)
"""A box of binary data that is a JPEG or PNG, its length in 8 bytes where 4 do not hold it."""
MOST_EMBEDDED: Final = 5
_MOST_EMBEDDED_BYTES: Final = 4 * MIB + 1
"""Pictures kept of those boxes, and bytes of each: one more than is compared and opened."""


class UnpackError(Exception):
    """A compressed part cannot be unpacked; the text continues a sentence that begins with it."""


def require(data: bytes, wanted: Format) -> None:
    """Raise DamagedError unless the content is of the wanted format."""
    if sniff(data) != wanted:
        raise DamagedError(f"the file is {describe(data)}")


def bytes_behind(count: int) -> str:
    """Sentence for data after a file's own end mark."""
    noun = "byte follows" if count == 1 else "bytes follow"
    return f"{count:,} {noun} the end of the picture"


class Allowance:
    """Bytes of metadata that one file may still carry; keeps the pieces that were asked for."""

    def __init__(self, limits: Limits) -> None:
        self._most = self._left = limits.metadata_bytes
        self._profile_most = limits.profile_bytes

    def take(self, data: bytes, start: int, end: int) -> bytes:
        """Copy ``data[start:end]``, or raise DamagedError when the allowance is used up."""
        self._spend(end - start)
        return data[start:end]

    def inflate(self, packed: bytes | memoryview) -> bytes:
        """Unpack a zlib stream, never beyond the allowance.

        Raises UnpackError when the stream is broken or incomplete.
        """
        unpacked = _inflate(packed, self._left)
        self._spend(len(unpacked))
        return unpacked

    def inflate_profile(self, packed: bytes | memoryview) -> bytes:
        """Unpack a color profile; raises UnpackError when that fails or it is too large."""
        unpacked = _inflate(packed, self._profile_most)
        if len(unpacked) > self._profile_most:
            raise UnpackError(f"is larger than {_mebibytes(self._profile_most)}")
        return unpacked

    def profile(self, data: bytes, start: int, end: int) -> tuple[bytes | None, str | None]:
        """Pair of profile and problem for a profile that is stored as it is."""
        if end - start > self._profile_most:
            return None, f"the color profile is larger than {_mebibytes(self._profile_most)}"
        return (data[start:end], None) if end > start else (None, "the color profile is empty")

    def _spend(self, size: int) -> None:
        self._left -= size
        if self._left < 0:
            raise DamagedError(f"the file carries more than {_mebibytes(self._most)} of metadata")


def _mebibytes(size: int) -> str:
    return f"{size / MIB:.3g} MiB"


def _inflate(packed: bytes | memoryview, most: int) -> bytes:
    """Unpack a zlib stream to at most ``most`` bytes, or one more when it is larger still."""
    unpacker = zlib.decompressobj()
    try:
        unpacked = unpacker.decompress(packed, most + 1)
    except zlib.error:
        raise UnpackError("cannot be unpacked") from None
    if len(unpacked) <= most and not unpacker.eof:
        raise UnpackError("is incomplete")
    return unpacked


def image_resources(block: bytes) -> Iterator[tuple[int, bytes]]:
    """Yield number and data of each image resource block ("8BIM").

    Each block: signature, number (2 bytes), Pascal string padded to even, size (4 bytes), data
    padded to even.
    """
    at = 0
    while block[at : at + 4] == b"8BIM" and at + 12 <= len(block):
        number = int.from_bytes(block[at + 4 : at + 6], "big")
        name = block[at + 6] + 1
        at += 6 + name + name % 2
        size = int.from_bytes(block[at : at + 4], "big")
        at += 4
        yield number, block[at : at + size]
        at += size + size % 2


def iptc_in_resources(block: bytes) -> bytes | None:
    """Return IPTC data within a series of image resource blocks, or None when there is none."""
    return next((data for number, data in image_resources(block) if number == _IPTC_RESOURCE), None)


def previews_in_resources(block: bytes) -> tuple[bytes, ...]:
    """Return JPEG previews within a series of image resource blocks, without their headings."""
    return tuple(
        data[_PREVIEW_HEADING:]
        for number, data in image_resources(block)
        if number in _PREVIEW_RESOURCES and data[_PREVIEW_HEADING:].startswith(b"\xff\xd8\xff")
    )


def pictures_in_assertions(block: bytes) -> tuple[bytes, ...]:
    """Return JPEG and PNG files in boxes of assertions, such as a preview of what a picture was made of.

    ISO/IEC 19566-5 (JUMBF), content type "embedded file": a box of binary data behind one that describes it.
    """
    found = []
    for mark in islice(_EMBEDDED.finditer(block), MOST_EMBEDDED):
        start = mark.start() - 4
        size = int.from_bytes(mark[1] or block[start : mark.start()], "big")
        end = start + size if size > len(mark[0]) else len(block)  # 0: all that is left
        found.append(block[mark.end() : min(end, mark.end() + _MOST_EMBEDDED_BYTES)])
    return tuple(found)
