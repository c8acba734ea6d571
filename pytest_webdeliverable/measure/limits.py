"""The limits that keep one image from taking a run down, each with its reason.

One policy object, so that a change of a limit is a change of one line. A portfolio may be untrusted, so
the manifest cannot change it; the ini file of the run can.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields, replace
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Iterable

MIB: Final = 1024 * 1024
"""Bytes in a mebibyte (IEC 80000-13)."""


def _bytes_by_format() -> dict[str, int]:
    return {
        "jpeg": 64 * MIB,
        "webp": 64 * MIB,
        "avif": 64 * MIB,
        "png": 128 * MIB,
        "gif": 32 * MIB,
        "tiff": 400 * MIB,
    }


class HeavyError(Exception):
    """A picture is dear to read or to decode, and the caller would rather have it done elsewhere."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a file may cost before it is refused with a sentence."""

    bytes_by_format: dict[str, int] = field(default_factory=_bytes_by_format)
    """Largest file by format: a print master may be large, a web copy may not."""
    pixels: int = 64_000_000
    """Largest picture decoded; 64 megapixels at 4 bytes a pixel are 256 MB."""
    side: int = 65_535
    """Longest side decoded, as JPEG has it; a line of pixels costs the decoder several copies."""
    jpeg_scans: int = 64
    """Progressive scans; honest files need at most 15, and each costs a pass over the picture."""
    jpeg_scan_pixels: int = 400_000_000
    """Scans times pixels: up to 2 ns each, and twice over."""
    jpeg_segments: int = 1024
    """Marker segments before the picture data."""
    jpeg_fill: int = 1024
    """Fill bytes (0xFF) in a row between markers."""
    png_chunks: int = 20_000
    """Chunks; an encoder that writes 8 kB IDAT chunks reaches this at 160 MB."""
    metadata_bytes: int = 16 * MIB
    """Exif, XMP, IPTC and profile together."""
    profile_bytes: int = 4 * MIB
    """One ICC profile; press profiles reach about 2.5 MB."""
    ifd_entries: int = 4096
    """Directory entries read from one Exif or TIFF structure, all directories together."""
    xmp_depth: int = 64
    """Nesting of XMP elements."""
    decode_bytes: int = 400 * MIB
    """Memory that one file and its decoding may take; the rest of 512 MB is left to the run."""
    aside_bytes: int = 128 * MIB
    """Memory of a decode from which a process of its own does it: 33 megapixels of JPEG, 8 of WebP, twice a
    web copy of 3200 x 2400 in any format but that. With 1 no picture is decoded in the run itself."""
    frames: int = 300
    """Frames of an animation that are looked at."""
    frame_pixels: int = 600_000_000
    """Canvas pixels times frames that are decoded for an animation."""
    seconds: float = 5.0
    """Longest a single image may take."""

    @property
    def all_aside(self) -> bool:
        """Whether no picture at all is decoded in the run itself."""
        return self.aside_bytes <= 1


DEFAULT_LIMITS: Final = Limits()
_MOST: Final = 2**53
"""Largest whole number that is exact in floating point."""


def changed_limits(lines: Iterable[str]) -> Limits:
    """Return the limits with the changes of an ini file, lines such as ``pixels = 100_000_000``.

    Formats have lines of their own: ``bytes.jpeg = 100 MiB``. Raises ValueError with a sentence.
    """
    changes: dict[str, Any] = {}
    sizes = _bytes_by_format()
    known = [item.name for item in fields(Limits) if item.name != "bytes_by_format"]
    for line in lines:
        name, equals, text = (part.strip() for part in line.partition("="))
        kind, _, form = name.partition(".")
        if not equals:
            raise ValueError(f'write a limit as "pixels = 64_000_000", not {line.strip()!r}')
        if kind == "bytes" and form in sizes:
            sizes[form] = int(_number(name, text))
        elif name in known:
            number = _number(name, text)
            changes[name] = number if name == "seconds" else int(number)
        else:
            near = get_close_matches(name, [*known, *(f"bytes.{one}" for one in sizes)], n=1)
            hint = f"; did you mean {near[0]!r}?" if near else ""
            raise ValueError(f"there is no limit {name!r}{hint}")
    return replace(DEFAULT_LIMITS, bytes_by_format=sizes, **changes)


def _number(name: str, text: str) -> float:
    digits = text.removesuffix("MiB").strip()
    try:
        number = float(digits) * (MIB if digits != text else 1)
    except ValueError:
        number = math.nan
    if not 1 <= number <= _MOST:
        raise ValueError(f"the limit {name!r} needs a number from 1, such as 64_000_000 or 64 MiB")
    return number
