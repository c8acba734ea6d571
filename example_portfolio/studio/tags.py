"""Metadata and profiles written byte by byte, so that each fault is exactly the one meant.

Layouts: Exif directories as in TIFF 6.0 section 2, Exif tags by CIPA DC-008, IPTC-IIM datasets in an
APP13 block, profiles by ICC.1:2022.
"""

from __future__ import annotations

import struct
import zlib
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Sequence

    from PIL import Image

Value = str | int | bytes | list[tuple[int, int]]
Entries = dict[int, Value]

EXIF_POINTER: Final = 0x8769
GPS_POINTER: Final = 0x8825
THUMBNAIL_AT: Final = 0x0201
THUMBNAIL_LENGTH: Final = 0x0202


def _packed(value: Value) -> tuple[int, int, bytes]:
    """Exif type, count and bytes (big-endian) of a value."""
    if isinstance(value, str):
        data = value.encode("ascii") + b"\0"
        return 2, len(data), data
    if isinstance(value, bytes):
        return 7, len(value), value
    if isinstance(value, int):
        if isinstance(value, _Offset):
            return 4, 1, struct.pack(">I", value)
        return 3, 1, struct.pack(">H", value)
    return 5, len(value), b"".join(struct.pack(">II", *pair) for pair in value)


def _directory(entries: Entries, at: int) -> bytes:
    """One directory that starts at this offset, its long values behind it."""
    head = 2 + 12 * len(entries) + 4
    body, rows = b"", b""
    for tag, value in sorted(entries.items()):
        kind, count, data = _packed(value)
        if len(data) <= 4:
            rows += struct.pack(">HHI", tag, kind, count) + data.ljust(4, b"\0")
        else:
            rows += struct.pack(">HHII", tag, kind, count, at + head + len(body))
            body += data + b"\0" * (len(data) % 2)
    return struct.pack(">H", len(entries)) + rows + bytes(4) + body


def exif(
    main: Entries | None = None,
    camera: Entries | None = None,
    gps: Entries | None = None,
    preview: bytes = b"",
) -> bytes:
    """Return an Exif block for APP1; `preview` is a small JPEG in the second directory."""
    entries = dict(main or {})
    for pointer, part in ((EXIF_POINTER, camera), (GPS_POINTER, gps)):
        if part:
            entries[pointer] = _Offset(0)
    start = 8
    # A first pass with the same lengths tells where each directory will lie.
    at = start + len(_directory(entries, start))
    blocks = b""
    for pointer, part in ((EXIF_POINTER, camera), (GPS_POINTER, gps)):
        if part:
            entries[pointer] = _Offset(at + len(blocks))
            blocks += _directory(part, at + len(blocks))
    first = _directory(entries, start)
    second = b""
    if preview:
        place = at + len(blocks)
        length = len(_directory({THUMBNAIL_AT: _Offset(0), THUMBNAIL_LENGTH: _Offset(0)}, place))
        small: Entries = {
            THUMBNAIL_AT: _Offset(place + length),
            THUMBNAIL_LENGTH: _Offset(len(preview)),
        }
        second = _directory(small, place) + preview
        link = 8 + 2 + 12 * len(entries)
        first = first[: link - 8] + struct.pack(">I", place) + first[link - 4 :]
    return b"Exif\0\0MM\0\x2a" + struct.pack(">I", start) + first + blocks + second


class _Offset(int):
    """A number that is always written as 32 bits."""


def xmp(properties: str) -> bytes:
    """Return an XMP packet around the given property elements."""
    spaces = {
        "dc": "http://purl.org/dc/elements/1.1/",
        "exif": "http://ns.adobe.com/exif/1.0/",
        "photoshop": "http://ns.adobe.com/photoshop/1.0/",
        "aux": "http://ns.adobe.com/exif/1.0/aux/",
    }
    names = " ".join(f'xmlns:{short}="{full}"' for short, full in spaces.items())
    return (
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/">'
        '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        f'<rdf:Description rdf:about="" {names}>{properties}</rdf:Description></rdf:RDF></x:xmpmeta>'
        '<?xpacket end="w"?>'
    ).encode()


def iptc(datasets: Sequence[tuple[int, str]]) -> bytes:
    """Return an APP13 payload with datasets of record 2."""
    iim = b"".join(
        struct.pack(">BBBH", 0x1C, 2, number, len(text.encode())) + text.encode()
        for number, text in datasets
    )
    return (
        b"Photoshop 3.0\0"
        b"8BIM\x04\x04\0\0" + struct.pack(">I", len(iim)) + iim + b"\0" * (len(iim) % 2)
    )


def insert_segment(data: bytes, marker: int, payload: bytes) -> bytes:
    """Put one more segment behind the JFIF segment of a JPEG."""
    jfif = 4 + struct.unpack(">H", data[4:6])[0]
    return data[:jfif] + struct.pack(">BBH", 0xFF, marker, len(payload) + 2) + payload + data[jfif:]


# D50 colorants. Those of Display P3 and of sRGB after Bradford adaptation (from memory, 5 digits).
SRGB_COLORANTS: Final = (
    (0.43607, 0.22249, 0.01392),
    (0.38515, 0.71687, 0.09708),
    (0.14307, 0.06061, 0.71410),
)
WIDE_COLORANTS: Final = (
    (0.51512, 0.24120, -0.00105),
    (0.29198, 0.69225, 0.04189),
    (0.15710, 0.06657, 0.78407),
)
D50: Final = (0.9642, 1.0, 0.8249)
SRGB_CURVE: Final = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
GAMMA_22: Final = (2.2,)


def _fixed(number: float) -> bytes:
    return struct.pack(">i", round(number * 65536))


def _text(words: str) -> bytes:
    raw = words.encode("utf-16-be")
    return b"mluc\0\0\0\0" + struct.pack(">II2s2sII", 1, 12, b"en", b"US", len(raw), 28) + raw


def profile(name: str, colorants: tuple[tuple[float, ...], ...], curve: tuple[float, ...]) -> bytes:
    """Return a matrix profile (version 4): one or five parameters make the curve a gamma or sRGB's kind."""
    kind = 0 if len(curve) == 1 else 3
    trc = b"para\0\0\0\0" + struct.pack(">HH", kind, 0) + b"".join(map(_fixed, curve))
    xyz = [b"XYZ \0\0\0\0" + b"".join(map(_fixed, c)) for c in (*colorants, D50)]
    parts = {
        b"desc": _text(name),
        b"cprt": _text("No rights reserved"),
        b"wtpt": xyz[3],
        b"rXYZ": xyz[0],
        b"gXYZ": xyz[1],
        b"bXYZ": xyz[2],
        b"rTRC": trc,
        b"gTRC": trc,
        b"bTRC": trc,
    }
    table, body = b"", b""
    start = 128 + 4 + 12 * len(parts)
    for tag, data in parts.items():
        table += tag + struct.pack(">II", start + len(body), len(data))
        body += data + b"\0" * (-len(data) % 4)
    size = start + len(body)
    head = struct.pack(">I4sI4s4s4s", size, b"\0\0\0\0", 0x04400000, b"mntr", b"RGB ", b"XYZ ")
    head += bytes((0x07, 0xE4, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0)) + b"acsp" + bytes(28)
    head += b"".join(map(_fixed, D50))
    return head.ljust(128, b"\0") + struct.pack(">I", len(parts)) + table + body


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png_16(picture: Image.Image, icc: bytes, pixels_per_meter: int) -> bytes:
    """Return an RGB PNG with 16 bits per sample, which Pillow itself does not write."""
    w, h = picture.size
    raw = picture.tobytes()
    wide = bytearray(len(raw) * 2)
    wide[0::2] = raw
    wide[1::2] = raw  # v * 257: the same tone in 16 bits
    lines = b"".join(b"\0" + bytes(wide[y * w * 6 : (y + 1) * w * 6]) for y in range(h))
    return (
        b"\x89PNG\r\n\x1a\n"
        + _chunk(b"IHDR", struct.pack(">IIBBBBB", w, h, 16, 2, 0, 0, 0))
        + _chunk(b"iCCP", b"sRGB\0\0" + zlib.compress(icc, 9))
        + _chunk(b"pHYs", struct.pack(">IIB", pixels_per_meter, pixels_per_meter, 1))
        + _chunk(b"IDAT", zlib.compress(lines, 9))
        + _chunk(b"IEND", b"")
    )
