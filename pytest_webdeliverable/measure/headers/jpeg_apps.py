"""Read the application segments of a JPEG file: density, profile, metadata blocks, previews.

Sources: JFIF (ITU-T T.871), the ICC profile specification annex on embedding (ICC.1, annex B),
Exif (CIPA DC-008), XMP (its part 3, storage in files), IPTC-IIM in image resource blocks,
Multi-Picture Format (CIPA DC-007), boxes of assertions (ISO/IEC 19566-5), the Adobe segment as T.872 describes it.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.headers import jpeg_tables as t81
from pytest_webdeliverable.measure.headers.base import Density
from pytest_webdeliverable.measure.headers.reading import (
    EXIF_PREFIX,
    LATE_PROFILE,
    MOST_EMBEDDED,
    Allowance,
    iptc_in_resources,
    pictures_in_assertions,
    previews_in_resources,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pytest_webdeliverable.measure.limits import Limits

_CM_PER_INCH: Final = 2.54  # exact since the international inch of 1959
_JFIF: Final = b"JFIF\0"
_JFXX: Final = b"JFXX\0"
_ICC: Final = b"ICC_PROFILE\0"
_XMP: Final = b"http://ns.adobe.com/xap/1.0/\0"
_XMP_EXTENSION: Final = b"http://ns.adobe.com/xmp/extension/\0"
_PHOTOSHOP: Final = b"Photoshop 3.0\0"
_ADOBE: Final = b"Adobe"
_BOXES: Final = b"JP"
_BOXES_HEADER: Final = 16
"""The mark, number of the box (2 bytes), that of the segment (4), and the heading of the box."""
_MPF: Final = b"MPF\0"
_TIFF_ORDERS: Final = (b"II", b"MM")
_XMP_PART_HEADER: Final = 40
"""GUID (32 characters), full length and offset (4 bytes each) before the data of a part."""

_JFXX_JPEG, _JFXX_PALETTE, _JFXX_RGB = 0x10, 0x11, 0x13
"""Kinds of preview in a JFIF extension segment (T.871 10.2)."""
_PALETTE_BYTES: Final = 768

_MPF_ENTRIES: Final = 0xB002
_MPF_ENTRY: Final = 16
_MPF_MOST_ENTRIES: Final = 1000
"""More pictures than any camera bundles; a segment could hold 4,000."""
_MPF_PREVIEW_CLASS: Final = 0x01
"""Bits 16 to 23 of an entry's attributes for the "large thumbnail" types (DC-007 5.2.3.3)."""


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture of a Multi-Picture file: its place in the file, and whether it is a preview."""

    start: int
    size: int
    is_preview: bool


@dataclass(slots=True)
class Apps:
    """What the application segments say, put together."""

    densities: list[Density] = field(default_factory=list)
    previews: list[bytes] = field(default_factory=list)
    exif: bytes | None = None
    xmp: tuple[bytes, ...] = ()
    icc: bytes | None = None
    icc_problem: str | None = None
    iptc: bytes | None = None
    adobe_transform: int | None = None
    pictures: tuple[Picture, ...] = ()
    problems: list[str] = field(default_factory=list)


def read_apps(
    segments: Sequence[tuple[int, int, bytes]], limits: Limits, first_scan: int | None = None
) -> Apps:
    """Read segments given as (marker, position of the payload in the file, payload).

    Browsers look for a profile before the first scan only, whose place in the file is ``first_scan``.
    """
    late = False
    apps = Apps()
    icc_parts: list[bytes] = []
    exif_parts: list[bytes] = []
    xmp_packets: list[bytes] = []
    xmp_parts: list[bytes] = []
    resources: list[bytes] = []
    boxes: dict[bytes, list[bytes]] = {}
    for marker, position, payload in segments:
        if marker == t81.APP0 and payload.startswith(_JFIF):
            _jfif(apps, payload[len(_JFIF) :])
        elif marker == t81.APP0 and payload.startswith(_JFXX):
            _jfxx(apps, payload[len(_JFXX) :])
        elif marker == t81.APP1 and payload.startswith(EXIF_PREFIX):
            exif_parts.append(payload[len(EXIF_PREFIX) :])
        elif marker == t81.APP1 and payload.startswith(_XMP):
            xmp_packets.append(payload[len(_XMP) :])
        elif marker == t81.APP1 and payload.startswith(_XMP_EXTENSION):
            xmp_parts.append(payload[len(_XMP_EXTENSION) :])
        elif marker == t81.APP2 and payload.startswith(_ICC):
            if first_scan is not None and position > first_scan:
                late = True
            else:
                icc_parts.append(payload[len(_ICC) :])
        elif marker == t81.APP2 and payload.startswith(_MPF) and not apps.pictures:
            apps.pictures = _pictures(payload[len(_MPF) :], position + len(_MPF))
        elif marker == t81.APP11 and payload.startswith(_BOXES) and len(payload) >= _BOXES_HEADER:
            boxes.setdefault(payload[2:4], []).append(payload[4:])
        elif marker == t81.APP13 and payload.startswith(_PHOTOSHOP):
            resources.append(payload[len(_PHOTOSHOP) :])
        elif marker == t81.APP14 and payload.startswith(_ADOBE) and len(payload) >= 12:
            apps.adobe_transform = payload[11]
    _exif(apps, exif_parts)
    apps.xmp = (*xmp_packets, *_extended_xmp(xmp_parts))
    embedded: list[bytes] = []
    for pieces in boxes.values():
        if len(embedded) < MOST_EMBEDDED:
            embedded.extend(pictures_in_assertions(_joined_boxes(pieces)))
    apps.previews.extend(embedded)
    blocks = b"".join(resources)
    apps.iptc = iptc_in_resources(blocks)
    # The segments belong together, but a damaged one must not hide what the next one begins with.
    for part in (blocks, *resources[1:]):
        apps.previews.extend(p for p in previews_in_resources(part) if p not in apps.previews)
    if icc_parts:
        apps.icc, apps.icc_problem = _profile(icc_parts, limits)
    elif late:
        apps.icc_problem = LATE_PROFILE
    return apps


def _joined_boxes(pieces: list[bytes]) -> bytes:
    """Join the segments of one box by their numbers; each repeats its heading (ISO/IEC 19566-5, annex D)."""
    pieces.sort(key=lambda piece: piece[:4])
    heading = 16 if pieces[0][4:8] == b"\0\0\0\1" else 8
    return pieces[0][4:] + b"".join(piece[4 + heading :] for piece in pieces[1:])


def _jfif(apps: Apps, body: bytes) -> None:
    if len(body) < 9:
        apps.problems.append("the JFIF segment is incomplete")
        return
    _, units, x, y, width, height = struct.unpack_from(">HBHHBB", body)
    per_unit = {1: 1.0, 2: _CM_PER_INCH}.get(units)
    known = per_unit is not None and x > 0 and y > 0
    apps.densities.append(
        Density(
            place="JFIF",
            x=x * per_unit if known and per_unit else None,
            y=y * per_unit if known and per_unit else None,
        )
    )
    _rgb_preview(apps, width, height, body[9:])


def _jfxx(apps: Apps, body: bytes) -> None:
    kind, rest = body[:1], body[1:]
    if kind == bytes((_JFXX_JPEG,)):
        apps.previews.append(rest)
    elif len(rest) < 2:
        return
    elif kind == bytes((_JFXX_RGB,)):
        _rgb_preview(apps, rest[0], rest[1], rest[2:])
    elif kind == bytes((_JFXX_PALETTE,)):
        palette, indexes = rest[2 : 2 + _PALETTE_BYTES], rest[2 + _PALETTE_BYTES :]
        if len(palette) == _PALETTE_BYTES:
            colors = [palette[at : at + 3] for at in range(0, _PALETTE_BYTES, 3)]
            shown = indexes[: rest[0] * rest[1]]
            samples = b"".join(map(colors.__getitem__, shown))
            _rgb_preview(apps, rest[0], rest[1], samples)


def _rgb_preview(apps: Apps, width: int, height: int, samples: bytes) -> None:
    """Keep uncompressed samples as a portable pixmap, which imaging libraries can open."""
    size = 3 * width * height
    if 0 < size <= len(samples):
        apps.previews.append(b"P6 %d %d 255\n" % (width, height) + samples[:size])


def _exif(apps: Apps, parts: list[bytes]) -> None:
    """Join Exif segments: some writers continue a block beyond 64 kB in the next one."""
    if not parts:
        return
    others = [part for part in parts[1:] if part.startswith(_TIFF_ORDERS)]
    if others:
        apps.problems.append(
            "the file holds more than one Exif block; programs differ in which they read"
        )
        apps.exif = parts[0]
    else:
        apps.exif = b"".join(parts)


def _extended_xmp(parts: list[bytes]) -> list[bytes]:
    """Join the parts of each extended packet by GUID, as far as they are there."""
    by_guid: dict[bytes, dict[int, bytes]] = {}
    for part in parts:
        if len(part) >= _XMP_PART_HEADER:
            offset = int.from_bytes(part[36:40], "big")
            by_guid.setdefault(part[:32], {})[offset] = part[_XMP_PART_HEADER:]
    return [b"".join(found[offset] for offset in sorted(found)) for found in by_guid.values()]


def _profile(parts: list[bytes], limits: Limits) -> tuple[bytes | None, str | None]:
    """Put an ICC profile together from its numbered parts (ICC.1 annex B.4), in any order."""
    if any(len(part) < 2 for part in parts):
        return None, "a part of the color profile is damaged"
    parts = list(dict.fromkeys(parts))  # the same part twice loses nothing
    counts = {part[1] for part in parts}
    numbers = [part[0] for part in parts]
    if len(counts) > 1:
        return None, "the parts of the color profile disagree on how many there are"
    (count,) = counts
    if len(set(numbers)) < len(numbers):
        return None, "two parts of the color profile have the same number"
    expected = set(range(1, count + 1))
    if set(numbers) != expected:
        missing = len(expected - set(numbers))
        return None, (
            f"{missing} of {count} parts of the color profile are missing"
            if missing
            else "the parts of the color profile are numbered wrongly"
        )
    profile = b"".join(part[2:] for part in sorted(parts, key=lambda part: part[0]))
    return Allowance(limits).profile(profile, 0, len(profile))


def _pictures(index: bytes, base: int) -> tuple[Picture, ...]:
    """Read the index of a Multi-Picture file; ``base`` is the file position its offsets count from.

    Returns an empty tuple for an index that cannot be read.
    """
    if not index.startswith(_TIFF_ORDERS) or len(index) < 8:
        return ()
    order = "<" if index.startswith(b"II") else ">"
    (directory,) = struct.unpack_from(order + "I", index, 4)
    if directory + 2 > len(index):
        return ()
    (fields,) = struct.unpack_from(order + "H", index, directory)
    for number in range(fields):
        at = directory + 2 + 12 * number
        if at + 12 > len(index):
            break
        tag, _, size, offset = struct.unpack_from(order + "HHII", index, at)
        if tag == _MPF_ENTRIES:
            entries = index[offset : offset + min(size, _MPF_MOST_ENTRIES * _MPF_ENTRY)]
            whole = len(entries) - len(entries) % _MPF_ENTRY
            return tuple(
                Picture(
                    # The first picture is the file's own and counts from the file's start.
                    start=base + start if start else 0,
                    size=length,
                    is_preview=attributes >> 16 & 0xFF == _MPF_PREVIEW_CLASS,
                )
                for attributes, length, start, _, _ in struct.iter_unpack(
                    order + "IIIHH", entries[:whole]
                )
            )
    return ()
