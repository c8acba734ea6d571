"""More hostile bytes: place data in unusual places, previews and strips made to cost, two pictures in one.

Adds to ``cases.CASES``. Sources stand in the readers' own modules: CIPA DC-008 and DC-007, TIFF 6.0,
IPTC-IIM, ISO 16684-1, PNG Third Edition, ITU-T T.81.
"""

from __future__ import annotations

import base64
import io
import json
import struct
import zlib
from typing import TYPE_CHECKING

from attacks import XMP_HEAD, exif_segment, in_jpeg, in_png
from cases import case, sound
from header_files import (
    XMP_TRAILER,
    application,
    box,
    chunk,
    riff_chunk,
    saved,
    sub_blocks,
    webp,
)
from jpegs import segment, with_segments
from metadata_files import iim, xmp
from metadata_files import tiff as directories
from PIL import Image

if TYPE_CHECKING:
    from collections.abc import Callable

# Place data wherever a forgiving reader finds them

GPS = {1: (2, b"N\0"), 2: (5, [52, 1, 30, 1, 0, 1]), 3: (2, b"E\0"), 4: (5, [13, 1, 24, 1, 0, 1])}
PLACE = directories([{0x10F: (2, b"m\0")}], pointers={0x8825: GPS})
NO_PLACE = directories([{0x10F: (2, b"m\0")}])
EXIF_PLACE = b"Exif\0\0" + PLACE
XMP_PLACE = xmp("<exif:GPSLatitude>52,30N</exif:GPSLatitude>")
XMP_CITY = xmp("<photoshop:City>Atlantis</photoshop:City>")
XMP_TITLE = xmp("<dc:title>x</dc:title>")
CITY = iim((2, 90, b"Atlantis"))
TITLE = iim((2, 5, b"x"))
RESOURCES = b"Photoshop 3.0\0"
ASSERTION = box(b"jumb", box(b"json", json.dumps({"exif:GPSLatitude": "52,30N"}).encode()))
BROKEN = (
    b'<a><b></a><r:RDF xmlns:r="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
    b'<GPSLatitude xmlns="http://ns.adobe.com/exif/1.0/">1</GPSLatitude></r:RDF>'
)


def resource(data: bytes, number: int = 0x404, signature: bytes = b"8BIM") -> bytes:
    head = signature + struct.pack(">HHI", number, 0, len(data))
    return head + data + b"\0" * (len(data) % 2)


def app(number: int, payload: bytes) -> bytes:
    return segment(0xE0 + number, payload)


def xmp_segment(packet: bytes) -> bytes:
    return app(1, XMP_HEAD + packet)


def index(entries: list[tuple[int, int, int]]) -> bytes:
    """A Multi-Picture index (DC-007): attributes, size and offset of each picture."""
    body = b"".join(struct.pack("<IIIHH", *entry, 0, 0) for entry in entries)
    field = struct.pack("<HHHIII", 1, 0xB002, 7, len(body), 26, 0)
    return app(2, b"MPF\0II*\0\x08\0\0\0" + field + body)


def with_pictures(seed: int, behind: bytes, *entries: tuple[int, int, int]) -> bytes:
    """A JPEG and more behind it: entries tell attributes, size and place behind the first picture."""
    first = with_segments(sound("jpeg", seed), index([(0, 0, 0), *entries]))
    base = first.index(b"MPF\0") + 4
    moved = [(kind, size, len(first) - base + at) for kind, size, at in entries]
    return with_segments(sound("jpeg", seed), index([(0, len(first), 0), *moved])) + behind


def second_picture(seed: int, *segments: bytes, before: bytes = b"") -> bytes:
    second = with_segments(sound("jpeg", seed + 1), *segments)
    return with_pictures(seed, before + second, (0, len(second), len(before)))


def pointing(kind: int, entries: int = 1) -> bytes:
    """A place directory behind an entry of an odd type, or behind thousands of others."""
    place = 8 + 2 + 12 * entries + 4
    fill = struct.pack("<HHII", 0x100, 3, 1, 1) * (entries - 1)
    entry = struct.pack("<HHII", 0x8825, kind, 1, place)
    head = b"II*\0\x08\0\0\0" + struct.pack("<H", entries)
    gps = struct.pack("<HHHI4sI", 1, 1, 2, 2, b"N\0\0\0", 0)
    return head + fill + entry + bytes(4) + gps


def thumbnail(data: bytes, **directory: tuple[int, object]) -> bytes:
    """Exif with a picture in its second directory, told of by other fields where some are given."""
    fields = {int(name[1:]): value for name, value in directory.items()} or {
        0x201: (4, "tail"),
        0x202: (4, len(data)),
    }
    return directories([{0x10F: (2, b"m\0")}, fields], tail=data)


def same_picture(seed: int, *segments: bytes) -> bytes:
    with Image.open(io.BytesIO(sound("jpeg", seed))) as opened:
        small = opened.convert("RGB")
    return with_segments(saved(small, "JPEG", quality=92), *segments)


def digits(kind: bytes, block: bytes, more: bytes = b"") -> bytes:
    text = b"\n%b\n%8d\n%b\n" % (kind, len(block), block.hex().encode() + more)
    return chunk(b"zTXt", b"Raw profile type " + kind + b"\0\0" + zlib.compress(text))


def in_webp(seed: int, *chunks: bytes) -> bytes:
    return webp(sound("webp", seed)[12:], *chunks)


def before_end(seed: int, block: bytes) -> bytes:
    return sound("gif", seed)[:-1] + block + b";"


def second_page(field: int, value: bytes) -> bytes:
    page = {256: (3, 8), 257: (3, 8), 258: (3, 8), 259: (3, 1), 262: (3, 1), 273: (4, "tail"),
            277: (3, 1), 278: (3, 8), 279: (4, 64)}  # fmt: skip
    start = field % 190
    return directories([page, page | {field: (7, value)}], tail=bytes(range(start, start + 64)))


HIDDEN: dict[str, tuple[str, Callable[[int], bytes]]] = {
    "exif-of-odd-prefix": ("jpeg", lambda s: in_jpeg(s, app(1, b"Exif\0\xff" + PLACE))),
    "exif-in-capitals": ("jpeg", lambda s: in_jpeg(s, app(1, b"EXIF\0\0" + PLACE))),
    "exif-in-app5": ("jpeg", lambda s: in_jpeg(s, app(5, EXIF_PLACE))),
    "exif-in-comment": ("jpeg", lambda s: in_jpeg(s, segment(0xFE, EXIF_PLACE))),
    "exif-behind-scan": (
        "jpeg",
        lambda s: sound("jpeg", s)[:-2] + app(1, EXIF_PLACE) + b"\xff\xd9",
    ),
    "xmp-in-app3": ("jpeg", lambda s: in_jpeg(s, app(3, XMP_HEAD + XMP_PLACE))),
    "fifth-xmp": (
        "jpeg",
        lambda s: in_jpeg(s, *[xmp_segment(XMP_TITLE)] * 4, xmp_segment(XMP_CITY)),
    ),
    "city-behind-doctype": ("jpeg", lambda s: in_jpeg(s, xmp_segment(b"<!DOCTYPE a>" + XMP_CITY))),
    "place-in-broken-xmp": ("jpeg", lambda s: in_jpeg(s, xmp_segment(BROKEN))),
    "city-in-broken-xmp": ("jpeg", lambda s: in_jpeg(s, xmp_segment(b"<a><b></a>" + XMP_CITY))),
    "city-in-utf-16": (
        "jpeg",
        lambda s: in_jpeg(s, xmp_segment(XMP_CITY.decode().encode("utf-16"))),
    ),
    "second-iptc": (
        "jpeg",
        lambda s: in_jpeg(s, app(13, RESOURCES + resource(TITLE) + resource(CITY))),
    ),
    "iptc-behind-rubbish": (
        "jpeg",
        lambda s: in_jpeg(s, app(13, RESOURCES + b"a"), app(13, RESOURCES + resource(CITY))),
    ),
    "iptc-behind-other-kind": (
        "jpeg",
        lambda s: in_jpeg(s, app(13, RESOURCES + resource(TITLE, 1, b"AgHg") + resource(CITY))),
    ),
    "iptc-behind-5000-sets": (
        "jpeg",
        lambda s: in_jpeg(
            s, app(13, RESOURCES + resource(iim(*[(2, 25, b"k")] * 5000, (2, 90, b"x"))))
        ),
    ),
    "iptc-behind-zeros": (
        "jpeg",
        lambda s: in_jpeg(s, app(13, RESOURCES + resource(bytes(9) + CITY))),
    ),
    "second-picture": ("jpeg", lambda s: second_picture(s, app(1, EXIF_PLACE))),
    "second-picture-xmp": ("jpeg", lambda s: second_picture(s, xmp_segment(XMP_PLACE))),
    "preview-with-place": (
        "jpeg",
        lambda s: in_jpeg(s, exif_segment(thumbnail(same_picture(s, app(1, EXIF_PLACE))))),
    ),
    "pointer-of-bytes": ("jpeg", lambda s: in_jpeg(s, exif_segment(pointing(7)))),
    "pointer-of-type-0": ("jpeg", lambda s: in_jpeg(s, exif_segment(pointing(0)))),
    "pointer-of-type-11": ("jpeg", lambda s: in_jpeg(s, exif_segment(pointing(11)))),
    "behind-5000-entries": ("jpeg", lambda s: in_jpeg(s, exif_segment(pointing(4, 5000)))),
    "assertion": ("jpeg", lambda s: in_jpeg(s, app(11, b"JP\0\1\0\0\0\1" + ASSERTION))),
    "png-text-exif": (
        "png",
        lambda s: in_png(s, chunk(b"eXIf", NO_PLACE), digits(b"exif", EXIF_PLACE)),
    ),
    "png-two-exif": ("png", lambda s: in_png(s, chunk(b"eXIf", NO_PLACE), chunk(b"eXIf", PLACE))),
    "png-resources": ("png", lambda s: in_png(s, digits(b"8bim", resource(CITY)))),
    "png-odd-digits": ("png", lambda s: in_png(s, digits(b"exif", EXIF_PLACE, b"0-"))),
    "png-capitals": ("png", lambda s: in_png(s, digits(b"EXIF", EXIF_PLACE))),
    "png-two-iptc": ("png", lambda s: in_png(s, digits(b"iptc", CITY), digits(b"iptc", TITLE))),
    "png-property": ("png", lambda s: in_png(s, chunk(b"tEXt", b"exif:GPSLatitude\00052/1"))),
    "png-assertion": ("png", lambda s: in_png(s, chunk(b"caBX", ASSERTION))),
    "png-plain-xmp": ("png", lambda s: in_png(s, chunk(b"tEXt", b"xmp\0" + XMP_CITY))),
    "webp-two-exif": (
        "webp",
        lambda s: in_webp(s, riff_chunk(b"EXIF", NO_PLACE), riff_chunk(b"EXIF", PLACE)),
    ),
    "webp-odd-xmp": ("webp", lambda s: in_webp(s, riff_chunk(b"XMP\0", XMP_CITY))),
    "webp-assertion": ("webp", lambda s: in_webp(s, riff_chunk(b"C2PA", ASSERTION))),
    "webp-odd-prefix": (
        "webp",
        lambda s: in_webp(s, riff_chunk(b"EXIF", b"Exif\0\xff" + PLACE)),
    ),
    "avif-xmp-box": ("avif", lambda s: sound("avif", s) + box(b"uuid", bytes(16), XMP_CITY)),
    "avif-assertion": ("avif", lambda s: sound("avif", s) + box(b"uuid", bytes(16), ASSERTION)),
    "gif-comment": ("gif", lambda s: before_end(s, b"!\xfe" + sub_blocks(XMP_PLACE))),
    "gif-odd-xmp": (
        "gif",
        lambda s: before_end(s, application(b"XMP DataXMQ", XMP_CITY + XMP_TRAILER)),
    ),
    "tiff-second-page-xmp": ("tiff", lambda _: second_page(700, XMP_CITY)),
    "tiff-second-page-iptc": ("tiff", lambda _: second_page(33723, CITY)),
    "tiff-second-page-resources": ("tiff", lambda _: second_page(34377, resource(CITY))),
}
for _number, (_name, (_kind, _hide)) in enumerate(HIDDEN.items()):
    case(
        f"hidden-{_name}",
        lambda hide=_hide, seed=1000 + 2 * _number: hide(seed),
        kind=_kind,
        rule="metadata-location",
        words="place data inside",
    )

# Previews that are there in an uncommon way

OTHER = sound("jpeg", 5, 40)
PREVIEWS = {
    "brightness-and-color": thumbnail(bytes(768), t256=(3, 16), t257=(3, 16), t259=(3, 1),
                                      t262=(3, 6), t273=(4, "tail"), t279=(4, 768)),
    "strip": thumbnail(OTHER, t259=(3, 6), t262=(3, 6), t273=(4, "tail"), t279=(4, len(OTHER))),
    "sub-directory": directories(
        [{0x10F: (2, b"m\0")}], pointers={0x14A: {0x201: (4, "tail"), 0x202: (4, len(OTHER))}}, tail=OTHER
    ),
    "third-directory": directories(
        [{0x10F: (2, b"m\0")}, {0x100: (3, 1)}, {0x201: (4, "tail"), 0x202: (4, len(OTHER))}], tail=OTHER
    ),
}  # fmt: skip
for _number, (_name, _exif) in enumerate(PREVIEWS.items()):
    case(
        f"preview-{_name}",
        lambda exif=_exif, seed=1200 + _number: in_jpeg(seed, exif_segment(exif)),
        rule="metadata-preview",
    )
ENCODED = base64.b64encode(OTHER).decode()
case(
    "preview-of-another-name",
    lambda: in_jpeg(1210, xmp_segment(xmp(f'<g:Data xmlns:g="a:b">{ENCODED}</g:Data>'))),
    rule="metadata-preview",
)
case(
    "preview-behind-rubbish",
    lambda: in_jpeg(
        1211,
        app(13, RESOURCES + b"a"),
        app(13, RESOURCES + resource(bytes(28) + OTHER, 0x40C)),
    ),
    rule="metadata-preview",
)
case(
    "between-two-pictures",
    lambda: second_picture(1212, before=b"PK\3\4" + bytes(5000)),
    words="follow the end",
)
