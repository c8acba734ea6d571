"""Exif, XMP and IPTC of a PNG file: in their own chunks, and in the text chunks of older writers."""

from __future__ import annotations

import binascii
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.headers.reading import (
    EXIF_PREFIX,
    UnpackError,
    iptc_in_resources,
)

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.headers.reading import Allowance

_XMP_KEYWORD: Final = b"XML:com.adobe.xmp"
_EXIF_KEYWORD: Final = b"exif"
_HEX_KEYWORD: Final = b"Raw profile type "
"""Begin of the keyword of metadata that is written as hexadecimal digits."""
_XMP_PREFIX: Final = b"http://ns.adobe.com/xap/1.0/\0"
"""Stands before XMP that was taken from a JPEG segment."""
_NO_DIGITS: Final = bytes(set(range(256)) - set(b"0123456789abcdefABCDEF"))
_KEYWORD_BYTES: Final = 80
"""Longest keyword and its zero byte (PNG Third Edition, 11.3.3.2)."""


class PngMetadata:
    """What the metadata chunks of one file hold, as they are met."""

    def __init__(self, data: bytes, allowance: Allowance) -> None:
        self._data = data
        self._allowance = allowance
        self.exif: bytes | None = None
        self.iptc: bytes | None = None
        self.xmp: list[bytes] = []
        self.loose: list[bytes] = []
        self._broken = False
        """Whether a text could not be unpacked, after which none is: each try costs as much as a text."""

    def take_exif(self, start: int, end: int) -> None:
        """Keep the content of eXIf, which goes before Exif in text."""
        block = self._allowance.take(self._data, start, end).removeprefix(EXIF_PREFIX)
        if self.exif:
            self.loose.append(self.exif)
        self.exif = block

    def take_text(self, name: bytes, start: int, end: int) -> None:
        """Keep metadata of a text chunk; other text is left alone.

        Raises UnpackError when the metadata is compressed and cannot be unpacked.
        """
        if self._broken:
            return
        keyword_end = self._data.find(b"\0", start, min(end, start + _KEYWORD_BYTES))
        keyword = self._data[start : max(keyword_end, start)]
        if keyword not in {_XMP_KEYWORD, _EXIF_KEYWORD} and not keyword.startswith(_HEX_KEYWORD):
            return
        body = self._allowance.take(self._data, keyword_end + 1, end)
        packed = name == b"zTXt"
        if name == b"iTXt":
            # Compression flag and method, language tag, translated keyword (11.3.3.4).
            packed = body[:1] == b"\1"
            body = body[2:].split(b"\0", 2)[-1]
        elif packed:
            body = body[1:]
        try:
            text = self._allowance.inflate(body) if packed else body
        except UnpackError:
            self._broken = True
            raise
        if keyword == _XMP_KEYWORD:
            self._keep_xmp(text)
        elif keyword == _EXIF_KEYWORD:
            self._keep_exif(text)
        else:
            self._take_digits(keyword.removeprefix(_HEX_KEYWORD), text)

    def _take_digits(self, kind: bytes, text: bytes) -> None:
        """Keep metadata written as a name, a length and hexadecimal digits, each on lines."""
        lines = text.strip().split(b"\n", 2)
        digits = lines[2].translate(None, _NO_DIGITS) if len(lines) == 3 else b""
        block = binascii.unhexlify(digits[: len(digits) // 2 * 2])
        kind = kind.lower()
        if kind == b"exif" or (kind == b"app1" and block.startswith(EXIF_PREFIX)):
            self._keep_exif(block)
        elif kind == b"iptc":
            if self.iptc:
                self.loose.append(self.iptc)
            self.iptc = iptc_in_resources(block) or block or None
        elif kind in {b"xmp", b"app1"}:
            self._keep_xmp(block.removeprefix(_XMP_PREFIX))
        elif block:
            self.loose.append(block)

    def _keep_exif(self, block: bytes) -> None:
        block = block.removeprefix(EXIF_PREFIX)
        if self.exif:
            self.loose.append(block)
        else:
            self.exif = block or None

    def _keep_xmp(self, packet: bytes) -> None:
        if packet:
            self.xmp.append(packet)
