"""Writes JPEG files for tests: by Pillow, or marker by marker where Pillow cannot."""

from __future__ import annotations

import io
import struct
from typing import Any

from PIL import Image


def noise(mode: str = "RGB", size: tuple[int, int] = (160, 120)) -> Image.Image:
    """A picture whose blocks all differ; the same at every call."""
    ramp = Image.linear_gradient("L").resize(size)
    rings = Image.effect_mandelbrot(size, (-1.5, -1.0, 0.5, 1.0), 60)
    return Image.merge("RGB", (ramp, rings, Image.blend(ramp, rings, 0.5))).convert(mode)


def saved(picture: Image.Image | None = None, **options: Any) -> bytes:
    buffer = io.BytesIO()
    (picture or noise()).save(buffer, "JPEG", **options)
    return buffer.getvalue()


def segment(marker: int, payload: bytes) -> bytes:
    return struct.pack(">BBH", 0xFF, marker, len(payload) + 2) + payload


def with_segments(data: bytes, *segments: bytes) -> bytes:
    """Insert segments right behind the start marker."""
    return data[:2] + b"".join(segments) + data[2:]


def data_span(data: bytes) -> tuple[int, int]:
    """Bounds of the coded data of the last scan of a file that ends with its end marker."""
    header = data.rindex(b"\xff\xda") + 2
    return header + struct.unpack_from(">H", data, header)[0], len(data) - 2


def cut_and_closed(data: bytes, fraction: float) -> bytes:
    """Keep a fraction of the last scan's data, then close the file as if it were whole."""
    start, end = data_span(data)
    return data[: start + int((end - start) * fraction)].rstrip(b"\xff") + b"\xff\xd9"


def frame_segment(
    marker: int, size: tuple[int, int], factors: tuple[int, ...], precision: int = 8
) -> bytes:
    width, height = size
    parts = b"".join(
        bytes((number, factor, 0 if number == 1 else 1)) for number, factor in enumerate(factors, 1)
    )
    head = struct.pack(">BHHB", precision, height, width, len(factors))
    return segment(marker, head + parts)


def scan_segment(components: int, first: int = 0, last: int = 63, approximation: int = 0) -> bytes:
    parts = b"".join(bytes((number, 0)) for number in range(1, components + 1))
    return segment(0xDA, bytes((components,)) + parts + bytes((first, last, approximation)))


def tables_segment(*tables: list[int] | tuple[int, ...], wide: bool = False) -> bytes:
    """Quantization tables numbered from 0, entries in file order."""
    code = "H" if wide else "B"
    return segment(
        0xDB,
        b"".join(
            bytes(((16 if wide else 0) + number,)) + struct.pack(f">64{code}", *table)
            for number, table in enumerate(tables)
        ),
    )


def assembled(
    marker: int = 0xC0,
    size: tuple[int, int] = (8, 8),
    factors: tuple[int, ...] = (0x11,),
    precision: int = 8,
    before: bytes = b"",
    coded: bytes = b"\x12" * 64,
    first: int = 0,
    last: int = 63,
) -> bytes:
    """A file of one scan whose coded data means nothing."""
    return (
        b"\xff\xd8"
        + before
        + frame_segment(marker, size, factors, precision)
        + scan_segment(len(factors), first, last)
        + coded
        + b"\xff\xd9"
    )
