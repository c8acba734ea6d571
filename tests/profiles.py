"""Writes ICC profiles with known numbers, byte by byte (layout from ICC.1:2022)."""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

# XYZ of sRGB's primaries as the widespread version 2 profile stores them (shared reference, srgb).
SRGB_COLORANTS = (
    (0.43607, 0.22249, 0.01392),
    (0.38515, 0.71687, 0.09708),
    (0.14307, 0.06061, 0.7141),
)
# Parameters of sRGB's curve as LittleCMS stores them, parametric function 3.
SRGB_PARAMETERS = (2.399994, 0.947861, 0.052139, 0.077393, 0.040451)
D65 = (0.95045, 1.0, 1.08905)


def fixed(*values: float) -> bytes:
    """s15Fixed16Numbers."""
    return struct.pack(f">{len(values)}i", *(round(value * 65536) for value in values))


def xyz(values: Sequence[float]) -> bytes:
    return b"XYZ \0\0\0\0" + fixed(*values)


def gamma(value: float) -> bytes:
    return b"curv\0\0\0\0" + struct.pack(">IH", 1, round(value * 256))


def table(entries: Sequence[int]) -> bytes:
    return b"curv\0\0\0\0" + struct.pack(f">I{len(entries)}H", len(entries), *entries)


def sampled(count: int, light: Callable[[float], float]) -> bytes:
    """A curve of ``count`` entries taken from a function of 0..1."""
    return table([round(65535 * light(index / (count - 1))) for index in range(count)])


def para(function: int, *parameters: float) -> bytes:
    return b"para\0\0\0\0" + struct.pack(">HH", function, 0) + fixed(*parameters)


def srgb_light(code: float) -> float:
    """IEC 61966-2-1, written out once more so that tests do not lean on the code they check."""
    return code / 12.92 if code <= 0.04045 else ((code + 0.055) / 1.055) ** 2.4


def text(words: str) -> bytes:
    """A version 2 description."""
    ascii_ = words.encode("latin-1") + b"\0"
    return b"desc\0\0\0\0" + struct.pack(">I", len(ascii_)) + ascii_ + bytes(4 + 4 + 2 + 1 + 67)


def localized(*entries: tuple[str, str]) -> bytes:
    """A version 4 description: pairs of language and words."""
    head = b"mluc\0\0\0\0" + struct.pack(">II", len(entries), 12)
    records, words = b"", b""
    for language, content in entries:
        encoded = content.encode("utf-16-be")
        place = len(head) + 12 * len(entries) + len(words)
        records += struct.pack(">2s2sII", language.encode(), b"US", len(encoded), place)
        words += encoded
    return head + records + words


def assemble(
    tags: Mapping[str, bytes],
    *,
    version: tuple[int, int] = (2, 1),
    device_class: str = "mntr",
    space: str = "RGB ",
    pcs: str = "XYZ ",
) -> bytes:
    """A whole profile; tags with equal bytes share one element, as writers do."""
    places: dict[bytes, int] = {}
    body, start = b"", 132 + 12 * len(tags)
    for element in tags.values():
        if element not in places:
            places[element] = start + len(body)
            body += element + bytes(-len(element) % 4)
    entries = b"".join(
        struct.pack(">4sII", name.encode(), places[element], len(element))
        for name, element in tags.items()
    )
    header = bytearray(128)
    header[0:4] = struct.pack(">I", start + len(body))
    header[8:10] = bytes((version[0], version[1] << 4))
    header[12:24] = (device_class + space + pcs).encode()
    header[36:40] = b"acsp"
    header[68:80] = fixed(0.9642, 1.0, 0.8249)
    return bytes(header) + struct.pack(">I", len(tags)) + entries + body


def matrix_tags(
    colorants: Sequence[Sequence[float]] = SRGB_COLORANTS,
    curve: bytes | Sequence[bytes] = b"",
    name: str = "a profile",
) -> dict[str, bytes]:
    curve = curve or para(3, *SRGB_PARAMETERS)
    curves = [curve] * 3 if isinstance(curve, bytes) else curve
    tags = {"desc": text(name), "wtpt": xyz(D65)}
    for channel, colorant, light in zip("rgb", colorants, curves, strict=True):
        tags[f"{channel}XYZ"] = xyz(colorant)
        tags[f"{channel}TRC"] = light
    return tags


def matrix_profile(
    colorants: Sequence[Sequence[float]] = SRGB_COLORANTS,
    curve: bytes | Sequence[bytes] = b"",
    name: str = "a profile",
    version: tuple[int, int] = (2, 1),
    device_class: str = "mntr",
) -> bytes:
    tags = matrix_tags(colorants, curve, name)
    return assemble(tags, version=version, device_class=device_class)


def gray_profile(curve: bytes, pcs: str = "XYZ ", device_class: str = "mntr") -> bytes:
    tags = {"desc": text("a gray"), "wtpt": xyz(D65), "kTRC": curve}
    return assemble(tags, space="GRAY", pcs=pcs, device_class=device_class)


def table_profile(space: str = "CMYK", device_class: str = "prtr") -> bytes:
    """A profile with a color table; what is inside the table is left empty."""
    tags = {"desc": text("a press"), "wtpt": xyz(D65), "A2B0": b"mft1" + bytes(44)}
    return assemble(tags, space=space, pcs="Lab ", device_class=device_class)
