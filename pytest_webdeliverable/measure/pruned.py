"""Leave out of a file whatever its pixels do not need, before it is given to the decoder.

Metadata is read by our own readers. In the decoder it could only cost time (Exif of many segments),
raise warnings in a thread, turn the picture unasked or spoil pixels that are intact.
"""

from __future__ import annotations

import io
import struct
import zlib
from typing import IO, TYPE_CHECKING, Final, cast

from pytest_webdeliverable.measure.headers.jpeg_scan import PictureFeed
from pytest_webdeliverable.measure.headers.sniff import PNG_SIGNATURE

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer

    from pytest_webdeliverable.measure.headers.base import Header
    from pytest_webdeliverable.measure.limits import Limits

_ENDS: Final = frozenset({0xD8, 0xD9, 0xDA})
"""Start and end of a picture, and its data: behind them nothing is left out."""
_BARE: Final = frozenset({0, 1, *range(0xD0, 0xD8)})
"""Markers without a length (T.81, B.1.1.3), and a zero byte, which makes 0xFF none."""
_NEEDED_APPS: Final = frozenset({0xE0, 0xEE})
"""JFIF and Adobe segments: they tell the color space (T.872, section 6)."""
_COMMENT: Final = 0xFE
_NEEDED_CHUNKS: Final = frozenset({b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND"})
_ONCE_BEFORE_DATA: Final = frozenset({b"PLTE", b"tRNS"})
"""Browsers take the first, and none behind the picture data (PNG Third Edition, 5.6); others the last."""
_DEPTH_AND_KIND: Final = slice(24, 26)
"""Bit depth and color type within IHDR, the first chunk (11.2.1)."""
_WIDENED: Final = {1: 1, 2: 85, 4: 17, 8: 1}
"""Factor that makes gray of so many bits one of 8 (13.12, sample depth rescaling); 1 bit stays so."""
_EMPTY_EXIF: Final = b"II*\0\x08\0\0\0\0\0\0\0\0\0"
"""A TIFF header and a directory without entries."""

_SINGLE_FIELDS: Final = frozenset(
    {254, 256, 257, 259, 262, 266, 277, 278, 284, 317, 322, 323, 512, 531}
)
"""TIFF 6.0: fields of one value, from NewSubfileType to YCbCrPositioning."""
_NEEDED_FIELDS: Final = _SINGLE_FIELDS | {
    *(258, 273, 279, 292, 293, 320, 324, 325, 338, 339, 340, 341, 347),
    *range(513, 522),
    *(529, 530, 532, 32995, 32996, 32997, 32998, 50674),
}
"""TIFF fields that tell how samples are stored, packed and made into colors (TIFF 6.0 and its
technical notes; from 32995 on, private fields of compression schemes)."""
_FIELD_BYTES: Final = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8}
_BIG_FIELD_BYTES: Final = {**_FIELD_BYTES, 13: 4, 16: 8, 17: 8, 18: 8}
MOST_FIELDS: Final = 4096
"""Entries in the directory; the baseline has about 30."""
MOST_STRIPS: Final = 100_000
"""Strips or tiles, each of which costs the decoder about 10 microseconds."""


class _Patched(io.RawIOBase):
    """A file in memory, some bytes of which read as others; nothing is copied before it is read."""

    def __init__(self, data: bytes, start: int, patch: bytes) -> None:
        self._pieces = (
            memoryview(data)[:start],
            memoryview(patch),
            memoryview(data)[start + len(patch) :],
        )
        self._size = len(data)
        self._at = 0

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        self._at = max(0, offset + (0, self._at, self._size)[whence])
        return self._at

    def tell(self) -> int:
        return self._at

    def read(self, size: int | None = -1) -> bytes:
        start = min(self._at, self._size)
        end = self._size if size is None or size < 0 else min(self._size, start + size)
        found = []
        offset = 0
        for piece in self._pieces:
            found.append(piece[max(0, start - offset) : max(0, end - offset)])
            offset += len(piece)
        self._at = end
        return b"".join(found)

    def readinto(self, buffer: WriteableBuffer) -> int:
        view = memoryview(buffer).cast("B")
        found = self.read(len(view))
        view[: len(found)] = found
        return len(found)


def _jpeg(data: bytes) -> bytes:
    """Leave out application data and comments before the first scan."""
    kept: list[memoryview] = []
    view = memoryview(data)
    at = start = 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker == 0xFF:  # fill
            at += 1
            continue
        if marker in _BARE:
            at += 2
            continue
        end = at + 2 + int.from_bytes(data[at + 2 : at + 4], "big")
        if marker in _ENDS or end > len(data):
            break
        if (0xE0 <= marker <= 0xEF and marker not in _NEEDED_APPS) or marker == _COMMENT:
            kept.append(view[start:at])
            start = end
        at = end
    return b"".join([view[:2], *kept, view[start:]])


def png_chunk(name: bytes, data: bytes = b"") -> bytes:
    """Return a chunk: length, name, data and checksum (PNG Third Edition, 5.3)."""
    body = name + data
    return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))


def _see_through(chunk: bytes, depth: int, kind: int) -> bytes:
    """Return a tRNS chunk as the decoder compares it: by the numbers of its own samples.

    It widens gray of 2 and 4 bits, and keeps the upper half of colors of 16 bits, but not so for the
    color of the chunk. What is above the depth is no part of that color (PNG Third Edition, 11.3.1.1).
    Colors of 16 bits that share the upper half with it thus count as see-through, too.
    """
    color = chunk[8:-4]
    if kind == 0 and depth in _WIDENED and len(color) == 2:
        color = struct.pack(">H", (color[1] & (1 << depth) - 1) * _WIDENED[depth])
    elif kind == 2 and depth == 16 and len(color) == 6:
        color = bytes((0, color[0], 0, color[2], 0, color[4]))
    else:
        return chunk
    return png_chunk(b"tRNS", color)


def _png(data: bytes) -> bytes:
    """Leave out all chunks but those of the (first) picture. Raises ValueError without an end.

    Transparency behind the pixels is ignored by readers, but not by the decoder.
    """
    view = memoryview(data)
    kept = [view[: len(PNG_SIGNATURE)]]
    seen: set[bytes] = set()
    at = len(PNG_SIGNATURE)
    while at + 12 <= len(data):
        end = at + 12 + int.from_bytes(data[at : at + 4], "big")
        name = data[at + 4 : at + 8]
        if end > len(data):
            break
        ignored = name in _ONCE_BEFORE_DATA and not seen.isdisjoint({name, b"IDAT"})
        if name in _NEEDED_CHUNKS and not ignored:
            chunk = view[at:end]
            if name == b"tRNS":
                chunk = memoryview(_see_through(bytes(chunk), *data[_DEPTH_AND_KIND]))
            kept.append(chunk)
        seen.add(name)
        if name == b"IEND":
            return b"".join(kept)
        at = end
    raise ValueError("the last chunk is missing")


def _avif(data: bytes, exif: bytes | None) -> bytes:
    """Put an empty directory in the place of Exif data."""
    if exif is None or len(exif) < len(_EMPTY_EXIF):
        return data
    return data.replace(exif, _EMPTY_EXIF.ljust(len(exif), b"\0"))


def _tiff(data: bytes) -> _Patched:
    """Cut the first directory down to the fields that the pixels need, and end the chain there.

    Raises ValueError where such a field is not what it must be, struct.error at the end of data.
    """
    order = "<" if data[:2] == b"II" else ">"
    if data[2:4] in {b"+\0", b"\0+"}:  # BigTIFF
        number, entry, at, inline = "Q", "HHQ8s", 8, 8
        sizes = _BIG_FIELD_BYTES
    else:
        number, entry, at, inline = "I", "HHI4s", 4, 4
        sizes = _FIELD_BYTES
    counter = "Q" if inline == 8 else "H"
    (directory,) = struct.unpack_from(order + number, data, at)
    (count,) = struct.unpack_from(order + counter, data, directory)
    if count > MOST_FIELDS:
        raise ValueError(f"{count} fields in the directory")
    kept: dict[int, bytes] = {}
    start = directory + struct.calcsize(counter)
    size = struct.calcsize("<" + entry)
    for place in range(start, start + count * size, size):
        tag, kind, values, value = struct.unpack_from(order + entry, data, place)
        if tag not in _NEEDED_FIELDS or tag in kept:
            continue
        length = values * sizes.get(kind, 0)
        (offset,) = struct.unpack(order + number, value)
        if length == 0 or (length > inline and offset + length > len(data)):
            raise ValueError(f"field {tag} is damaged")
        if tag in _SINGLE_FIELDS and values != 1:
            raise ValueError(f"field {tag} has {values} values")
        if tag in {273, 324} and values > MOST_STRIPS:
            raise ValueError(f"{values} strips or tiles")
        kept[tag] = data[place : place + size]
    patch = b"".join(
        (
            struct.pack(order + counter, len(kept)),
            *(kept[tag] for tag in sorted(kept)),
            struct.pack(order + number, 0),
        )
    )
    return _Patched(data, directory, patch)


def for_decoding(data: bytes, header: Header, limits: Limits) -> IO[bytes]:
    """Return the file for the decoder, without what only our own readers look at.

    A JPEG comes as a PictureFeed, to be asked afterwards whether its data was enough. Raises
    ValueError or struct.error where the file is too damaged to be decoded.
    """
    match header.format:
        case "jpeg":
            return PictureFeed(_jpeg(data), limits)
        case "png":
            return io.BytesIO(_png(data))
        case "avif":
            return io.BytesIO(_avif(data, header.exif))
        case "tiff":
            return cast("IO[bytes]", _tiff(data))
    return io.BytesIO(data)
