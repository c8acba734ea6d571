"""The bytes of an ICC profile: header, tag table, and the few element types the checks need.

Layout from ICC.1:2022 (version 4; version 2 differs in the text types). Every offset is checked
against the profile's length before it is followed, so any bytes give a profile or one sentence.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import Final

from pytest_webdeliverable.display import LONGEST, display_name

HEADER_BYTES: Final = 128
COUNT_BYTES: Final = 4
ENTRY_BYTES: Final = 12
"""Signature, offset and size of one tag."""
MOST_TAGS: Final = 1024
"""Entries read from a tag table; no source, the fullest profiles at hand have 21."""
MOST_TEXT: Final = 4 * LONGEST
"""Bytes of a description that are looked at: those shown, in UTF-16 and with some padding."""
S15_FIXED_16: Final = 65_536
"""Divisor of an s15Fixed16Number."""
ELEMENT_HEAD: Final = 8
"""Type signature and reserved bytes that open every tag element."""

XYZ = tuple[float, float, float]


class DamagedProfileError(ValueError):
    """The bytes are no usable ICC profile; the text says why, for a designer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tags:
    """Header fields and tag places of one profile. Signatures are four characters, space padded."""

    data: bytes
    version: tuple[int, int]
    device_class: str
    space: str
    pcs: str
    places: dict[str, tuple[int, int]]
    oddities: tuple[str, ...]

    def __contains__(self, name: str) -> bool:
        return name in self.places

    def element(self, name: str, *types: str) -> bytes:
        """Return a tag's bytes; raise if it is missing, cut off or of another type."""
        if name not in self.places:
            raise DamagedProfileError(f"the color profile lacks its {name} entry")
        offset, size = self.places[name]
        element = self.data[offset : offset + size]
        if len(element) < size or size < ELEMENT_HEAD:
            raise DamagedProfileError(f"the color profile is damaged: its {name} entry is cut off")
        if signature(element[:4]) not in types:
            raise DamagedProfileError(f"the color profile is damaged: its {name} entry is garbled")
        return element


def signature(field: bytes) -> str:
    """Return a four-byte signature as text; bytes that cannot be printed become ``?``."""
    return "".join(chr(byte) if 0x20 <= byte < 0x7F else "?" for byte in field)


def read_tags(data: bytes) -> Tags:
    """Read header and tag table; raise DamagedProfileError where no reader could go on."""
    if len(data) < HEADER_BYTES + COUNT_BYTES:
        raise DamagedProfileError(
            f"the color profile is cut off: {len(data)} bytes are less than its header"
        )
    if data[36:40] != b"acsp":
        raise DamagedProfileError("what is embedded as color profile is no ICC profile")
    oddities: list[str] = []
    size, count = struct.unpack_from(">I", data, 0)[0], struct.unpack_from(">I", data, 128)[0]
    if size > len(data):
        raise DamagedProfileError(
            f"the color profile is cut off: it says it has {size} bytes, {len(data)} are there"
        )
    if count > min(MOST_TAGS, (size - HEADER_BYTES - COUNT_BYTES) // ENTRY_BYTES):
        raise DamagedProfileError(
            f"the color profile is damaged: it says it has {count} entries, more than it can hold"
        )
    if size < len(data):
        # Readers go by the header, so what follows the profile is not part of it.
        oddities.append(f"the color profile says it has {size} bytes, but {len(data)} are embedded")
        data = data[:size]
    places: dict[str, tuple[int, int]] = {}
    for index in range(count):
        start = HEADER_BYTES + COUNT_BYTES + index * ENTRY_BYTES
        name = signature(data[start : start + 4])
        if name in places:
            raise DamagedProfileError(f"the color profile is damaged: it has two {name} entries")
        places[name] = struct.unpack_from(">II", data, start + 4)
    # Elements that overlap are left alone: compact profiles save bytes that way, and it does no harm.
    outside = sorted(name for name, (offset, length) in places.items() if offset + length > size)
    if outside:
        oddities.append(f"entries of the color profile lie outside it: {', '.join(outside[:8])}")
    return Tags(
        data=data,
        version=(data[8], data[9] >> 4),
        device_class=signature(data[12:16]),
        space=signature(data[16:20]),
        pcs=signature(data[20:24]),
        places=places,
        oddities=tuple(oddities),
    )


def read_xyz(element: bytes) -> XYZ:
    """Return the first X, Y, Z of an XYZType element (relative to the D50 white with Y = 1)."""
    if len(element) < ELEMENT_HEAD + 12:
        raise DamagedProfileError("the color profile is damaged: a color in it is cut off")
    x, y, z = struct.unpack_from(">3i", element, ELEMENT_HEAD)
    return x / S15_FIXED_16, y / S15_FIXED_16, z / S15_FIXED_16


def description(tags: Tags) -> str:
    """Return the profile's name, safe to print; empty where it has none that can be read."""
    try:
        element = tags.element("desc", "desc", "mluc", "text")
    except DamagedProfileError:
        return ""
    kind = signature(element[:4])
    if kind == "mluc":
        text = _localized(element)
    else:
        # Version 2 counts the characters first; the NUL that ends them serves as well.
        start = ELEMENT_HEAD + 4 if kind == "desc" else ELEMENT_HEAD
        text = element[start : start + MOST_TEXT].decode("latin-1")
    return display_name(text.split("\0", 1)[0].strip())


def _localized(element: bytes) -> str:
    """English text of multiLocalizedUnicodeType, else its first."""
    if len(element) < ELEMENT_HEAD + 8:
        return ""
    count, length = struct.unpack_from(">II", element, ELEMENT_HEAD)
    chosen: tuple[int, int] | None = None
    for index in range(min(count, MOST_TAGS)):
        start = ELEMENT_HEAD + 8 + index * length
        if length < ENTRY_BYTES or start + ENTRY_BYTES > len(element):
            break
        size, offset = struct.unpack_from(">II", element, start + 4)
        english = element[start : start + 2] == b"en"
        if chosen is None or english:
            chosen = offset, min(size, MOST_TEXT)
        if english:
            break
    if chosen is None:
        return ""
    offset, size = chosen
    return element[offset : offset + size].decode("utf-16-be", errors="replace")
