"""Metadata written byte by byte, for tests: TIFF directories, XMP packets, IPTC-IIM data sets."""

from __future__ import annotations

import json
import struct

from pytest_webdeliverable.measure.headers.base import Header
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS
from pytest_webdeliverable.measure.metadata import MetadataFacts, metadata_facts

_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4}
_LETTERS = {3: "H", 4: "I", 5: "I", 8: "h", 9: "i", 10: "i", 11: "f", 12: "d", 13: "I"}

XMP_NAMESPACES = {
    "dc": "http://purl.org/dc/elements/1.1/",
    "exif": "http://ns.adobe.com/exif/1.0/",
    "aux": "http://ns.adobe.com/exif/1.0/aux/",
    "exifEX": "http://cipa.jp/exif/1.0/",
    "tiff": "http://ns.adobe.com/tiff/1.0/",
    "photoshop": "http://ns.adobe.com/photoshop/1.0/",
    "xmp": "http://ns.adobe.com/xap/1.0/",
    "xmpMM": "http://ns.adobe.com/xap/1.0/mm/",
    "xmpGImg": "http://ns.adobe.com/xap/1.0/g/img/",
    "Iptc4xmpCore": "http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/",
    "Iptc4xmpExt": "http://iptc.org/std/Iptc4xmpExt/2008-02-29/",
}


def field(order: str, kind: int, value: object) -> tuple[int, int, bytes]:
    """(type, count, bytes) of one directory entry; rationals are given as a flat list."""
    if isinstance(value, bytes):
        return kind, len(value), value
    numbers = value if isinstance(value, list) else [value]
    packed = struct.pack(f"{order}{len(numbers)}{_LETTERS[kind]}", *numbers)
    return kind, len(packed) // _SIZES[kind], packed


def tiff(
    directories: list[dict[int, tuple[int, object]]],
    *,
    order: str = "<",
    pointers: dict[int, dict[int, tuple[int, object]]] | None = None,
    tail: bytes = b"",
) -> bytes:
    """A classic TIFF structure: a chain of directories, and directories that the first points at.

    ``tail`` is put at the very end; an entry whose value is the text "tail" holds its offset.
    """
    pointers = pointers or {}
    first = dict(directories[0])
    for tag in pointers:
        first[tag] = (4, 0)
    chain = [first, *directories[1:]]
    everything = [*chain, *pointers.values()]
    sizes = [2 + 12 * len(directory) + 4 for directory in everything]
    starts = [8 + sum(sizes[:index]) for index in range(len(sizes))]
    heap_start = 8 + sum(sizes)
    for index, tag in enumerate(pointers):
        first[tag] = (4, starts[len(chain) + index])
    heap_size = 0
    for directory in everything:
        for kind, value in directory.values():
            if value != "tail":
                size = len(field(order, kind, value)[2])
                heap_size += size + size % 2 if size > 4 else 0
    out = {"<": b"II", ">": b"MM"}[order] + struct.pack(order + "HI", 42, 8)
    heap = b""
    for index, directory in enumerate(everything):
        out += struct.pack(order + "H", len(directory))
        for tag, (kind, value) in sorted(directory.items()):
            real = heap_start + heap_size if value == "tail" else value
            kind_, count, raw = field(order, kind, real)
            out += struct.pack(order + "HHI", tag, kind_, count)
            if len(raw) <= 4:
                out += raw.ljust(4, b"\0")
            else:
                out += struct.pack(order + "I", heap_start + len(heap))
                heap += raw + b"\0" * (len(raw) % 2)
        following = starts[index + 1] if index + 1 < len(chain) else 0
        out += struct.pack(order + "I", following)
    return out + heap + tail


RDF = b'<r:RDF xmlns:r="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><r:Description>'
"""Start of a packet without namespaces."""


def xmp(body: str, *, attributes: str = "") -> bytes:
    """A packet with ``body`` inside one rdf:Description, UTF-8, with the usual padding."""
    names = " ".join(f'xmlns:{prefix}="{uri}"' for prefix, uri in XMP_NAMESPACES.items())
    text = (
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>'
        '<x:xmpmeta xmlns:x="adobe:ns:meta/" x:xmptk="drawn"><rdf:RDF '
        'xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        f'<rdf:Description rdf:about="" {names} {attributes}>{body}</rdf:Description>'
        "</rdf:RDF></x:xmpmeta>" + "\n" + " " * 200 + '<?xpacket end="w"?>'
    )
    return text.encode()


def sequence(*values: str) -> str:
    """An ordered array."""
    items = "".join(f"<rdf:li>{value}</rdf:li>" for value in values)
    return f"<rdf:Seq>{items}</rdf:Seq>"


def languages(**values: str) -> str:
    """A text in several languages; "x_default" stands for x-default."""
    items = "".join(
        f'<rdf:li xml:lang="{code.replace("_", "-")}">{text}</rdf:li>'
        for code, text in values.items()
    )
    return f"<rdf:Alt>{items}</rdf:Alt>"


def iim(*sets: tuple[int, int, bytes], utf8: bool = False) -> bytes:
    """An IPTC-IIM stream; values above 32767 bytes get the extended length."""
    out = b""
    for record, number, value in ((1, 90, b"\x1b%G"), *sets) if utf8 else sets:
        length = len(value)
        long = length > 0x7FFF
        size = struct.pack(">HI", 0x8004, length) if long else struct.pack(">H", length)
        out += bytes([0x1C, record, number]) + size + value
    return out


def header(
    *,
    exif: bytes | None = None,
    xmp: tuple[bytes, ...] = (),
    iptc: bytes | None = None,
    form: str = "jpeg",
    previews: tuple[bytes, ...] = (),
    coded: tuple[int, int] | None = None,
) -> Header:
    """A header that carries the given metadata and nothing else of interest."""
    return Header(
        format=form,  # type: ignore[arg-type]
        width=40,
        height=30,
        mode="rgb",
        bits=8,
        exif=exif,
        xmp=xmp,
        iptc=iptc,
        previews=previews,
        coded=coded,
    )


def facts(**parts: object) -> MetadataFacts:
    """The facts of a header with these parts; plain JSON."""
    found = metadata_facts(header(**parts), DEFAULT_LIMITS)  # type: ignore[arg-type]
    assert json.loads(json.dumps(found)) == found
    return found
