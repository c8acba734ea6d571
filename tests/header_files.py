"""Picture files written byte by byte, for tests: PNG chunks, GIF blocks, RIFF chunks, ISO boxes."""

from __future__ import annotations

import io
import struct
import zlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import Image

PNG_START = b"\x89PNG\r\n\x1a\n"


def saved(picture: Image.Image, file_format: str, **options: object) -> bytes:
    """The bytes of a picture as Pillow writes them."""
    file = io.BytesIO()
    picture.save(file, file_format, **options)
    return file.getvalue()


def chunk(name: bytes, data: bytes = b"") -> bytes:
    """A PNG chunk with a right checksum."""
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def ihdr(width: int = 4, height: int = 3, depth: int = 8, kind: int = 2) -> bytes:
    return chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, kind, 0, 0, 0))


def pixels(width: int = 4, height: int = 3, samples: int = 3) -> bytes:
    """IDAT of a black 8-bit picture."""
    return chunk(b"IDAT", zlib.compress((b"\0" + bytes(width * samples)) * height))


def png(*chunks: bytes, head: bytes = ihdr(), after: tuple[bytes, ...] = ()) -> bytes:
    """A 4 x 3 truecolor PNG with more chunks before or after its picture data."""
    return PNG_START + head + b"".join(chunks) + pixels() + b"".join(after) + chunk(b"IEND")


def fctl(number: int, width: int = 4, height: int = 3, left: int = 0, top: int = 0) -> bytes:
    """Frame control chunk of an animated PNG, shown for a tenth of a second."""
    return chunk(b"fcTL", struct.pack(">IIIIIHHBB", number, width, height, left, top, 1, 10, 0, 0))


def fdat(number: int) -> bytes:
    return chunk(b"fdAT", struct.pack(">I", number) + pixels()[8:-4])


def animated_png(frames: int, claimed: int | None = None) -> bytes:
    numbers = iter(range(2 * frames))
    parts = [fctl(next(numbers)), pixels()]
    for _ in range(frames - 1):
        parts += [fctl(next(numbers)), fdat(next(numbers))]
    count = frames if claimed is None else claimed
    actl = chunk(b"acTL", struct.pack(">II", count, 0))
    return PNG_START + ihdr() + actl + b"".join(parts) + chunk(b"IEND")


GIF_START = b"GIF89a" + struct.pack("<HHBBB", 4, 3, 0x80, 0, 0) + bytes(6)
GIF_FRAME = b"," + struct.pack("<HHHHB", 0, 0, 4, 3, 0) + b"\x02\x02\x84\x51\x00"
GIF_CONTROL = b"!\xf9\x04\x01\x0a\x00\x00\x00"
"""A graphic control extension whose transparency flag is set."""


def gif(*blocks: bytes, end: bytes = b";") -> bytes:
    """A 4 x 3 GIF with two black colors."""
    return GIF_START + b"".join(blocks) + end


def application(name: bytes, data: bytes) -> bytes:
    """A GIF application extension; the data stand as they are, or in full sub-blocks."""
    return b"!\xff\x0b" + name + data


def sub_blocks(data: bytes) -> bytes:
    parts = [data[at : at + 255] for at in range(0, len(data), 255)]
    return b"".join(bytes([len(part)]) + part for part in parts) + b"\0"


XMP_TRAILER = b"\x01" + bytes(range(255, -1, -1)) + b"\0"
"""What stands behind XMP in GIF: XMP Specification Part 3, 1.1.2."""


def riff_chunk(name: bytes, data: bytes) -> bytes:
    return name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)


def webp(*chunks: bytes) -> bytes:
    body = b"WEBP" + b"".join(chunks)
    return b"RIFF" + struct.pack("<I", len(body)) + body


def vp8x(flags: int, width: int = 4, height: int = 3) -> bytes:
    size = (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little")
    return riff_chunk(b"VP8X", bytes([flags, 0, 0, 0]) + size)


def vp8l(width: int = 4, height: int = 3, *, alpha: bool = False) -> bytes:
    """A lossless chunk with its heading only: the sizes, the alpha flag, version 0."""
    bits = (width - 1) | (height - 1) << 14 | alpha << 28
    return riff_chunk(b"VP8L", b"\x2f" + struct.pack("<I", bits) + bytes(9))


def anmf(left: int = 0, top: int = 0, width: int = 4, height: int = 3) -> bytes:
    numbers = (left // 2, top // 2, width - 1, height - 1, 100)
    head = b"".join(number.to_bytes(3, "little") for number in numbers) + b"\0"
    return riff_chunk(b"ANMF", head + vp8l(width, height))


def box(kind: bytes, *parts: bytes, full: int | None = None) -> bytes:
    """An ISO base media box; ``full`` gives it a version (upper byte) and flags."""
    body = (b"" if full is None else struct.pack(">I", full)) + b"".join(parts)
    return struct.pack(">I", 8 + len(body)) + kind + body


def infe(item: int, kind: bytes, rest: bytes = b"\0") -> bytes:
    return box(b"infe", struct.pack(">HH", item, 0), kind, rest, full=2 << 24)


def ispe(width: int, height: int) -> bytes:
    return box(b"ispe", struct.pack(">II", width, height), full=0)


AV1C = box(b"av1C", b"\x81\x00\x0c\x00")
FTYP = box(b"ftyp", b"avif\0\0\0\0avifmif1")


def avif(
    *more: bytes,
    properties: tuple[bytes, ...] = (ispe(4, 3), AV1C),
    locations: bytes | None = None,
    picture: bytes = b"pixels",
) -> bytes:
    """An AVIF of one picture, whose coded pixels are no pixels, and more boxes in its meta box.

    Its properties all belong to the picture.
    """
    head = struct.pack(">IHB", 1, 1, len(properties))
    table = box(b"ipma", head, bytes(range(1, len(properties) + 1)), full=0)

    def meta(offset: int) -> bytes:
        place = struct.pack(">HHHHIHII", 0x4440, 1, 1, 0, 0, 1, offset, len(picture))
        return box(
            b"meta",
            box(b"pitm", struct.pack(">H", 1), full=0),
            box(b"iinf", struct.pack(">H", 1), infe(1, b"av01"), full=0),
            box(b"iloc", place, full=0) if locations is None else locations,
            box(b"iprp", box(b"ipco", *properties), table),
            *more,
            full=0,
        )

    size = len(meta(0))
    return FTYP + meta(len(FTYP) + size + 8) + box(b"mdat", picture)
