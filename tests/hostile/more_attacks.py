"""More hostile bytes: files of two kinds, and oddities of JPEG and its metadata.

Adds to ``cases.CASES``. A case with ``rule=None`` is odd but sound by its format's standard.
"""

from __future__ import annotations

import gzip
import io
import struct
import tarfile

import jpegs
import profiles
from attacks import SPEECH, exif_segment, in_jpeg, in_png, without_profile
from cases import archive, case, sound
from header_files import (
    chunk,
    saved,
)
from jpegs import segment
from metadata_files import iim, sequence, xmp
from metadata_files import tiff as directories

PAGE = b"<!DOCTYPE html><html><script>alert(1)</script></html>"
XMP_HEAD = b"http://ns.adobe.com/xap/1.0/\0"

# Two kinds in one


def told(payload: bytes, seed: int) -> bytes:
    return in_jpeg(seed, segment(0xFE, payload))


case("page-in-comment", lambda: told(PAGE, 300), rule=None)
case("program-in-comment", lambda: told(b"<?php system('id'); ?>", 301), rule=None)
case("archive-in-comment", lambda: told(archive()[:60_000], 302), rule=None)
case("pdf-in-comment", lambda: told(b"%PDF-1.7\n1 0 obj<</S/JavaScript>>endobj\n", 303), rule=None)
case(
    "script-in-text-chunk",
    lambda: in_png(304, chunk(b"tEXt", b"Comment\0" + PAGE)),
    kind="png",
    rule=None,
)
case(
    "archive-in-chunk",
    lambda: in_png(305, chunk(b"zzZz", archive())),
    kind="png",
    rule=None,
)
case("gif-behind-jpeg", lambda: sound("jpeg", 306) + sound("gif", 306))
case("jpeg-in-png", lambda: sound("png", 307) + sound("jpeg", 307), kind="png")
case("png-behind-webp", lambda: sound("webp", 308) + sound("png", 308), kind="webp")


def tarball() -> bytes:
    buffer = io.BytesIO()
    with tarfile.open(fileobj=buffer, mode="w") as file:
        entry = tarfile.TarInfo("picture.jpg")
        entry.size = 4
        file.addfile(entry, io.BytesIO(b"abcd"))
    return buffer.getvalue()


STRANGERS = {
    "bmp": lambda: saved(without_profile("jpeg", 310), "BMP"),
    "pnm": lambda: saved(without_profile("jpeg", 311), "PPM"),
    "tga": lambda: saved(without_profile("jpeg", 312), "TGA"),
    "icon": lambda: saved(without_profile("jpeg", 313), "ICO"),
    "layered": lambda: b"8BPS\0\1" + bytes(400),
    "jpeg-2000": lambda: b"\0\0\0\x0cjP  \r\n\x87\n" + bytes(400),
    "jpeg-xl": lambda: b"\0\0\0\x0cJXL \r\n\x87\n" + bytes(400),
    "bare-jpeg-xl": lambda: b"\xff\x0a" + bytes(400),
    "sound-file": lambda: b"RIFF\x90\1\0\0WAVEfmt " + bytes(400),
    "film": lambda: b"\0\0\0\x18ftypisom\0\0\2\0isomavc1" + bytes(400),
    "gzip": lambda: gzip.compress(sound("jpeg"), mtime=0),
    "tar": tarball,
    "utf-16": lambda: "<svg onload=alert(1)>".encode("utf-16") * 40,
    "data-address": lambda: b"data:image/jpeg;base64,/9j/4AAQSkZJRgABAQ==" * 9,
    "desktop-file": lambda: b"\0\5\x16\7\0\2\0\0Mac OS X        " + bytes(400),
    "ole": lambda: b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(900),
    "python": lambda: b"#!/usr/bin/env python3\nimport os\nos.system('touch owned')\n",
    "pickle": lambda: b"cposix\nsystem\n(S'touch owned'\ntR.",
    "toml": lambda: b'[[piece]]\nid = "a"\nfile = "a.jpg"\n',
    "zeros": lambda: bytes(100_000),
    "ones": lambda: b"\xff" * 100_000,
    "line-feeds": lambda: b"\n" * 100_000,
    "start-markers": lambda: b"\xff\xd8" * 50_000,
    "quickdraw": lambda: bytes(512) + b"\0\0\0\0\0\0\0\x40\0\x40\0\x11\2\xff" + bytes(400),
}
for _name, _make in STRANGERS.items():
    case(f"stranger-{_name}", _make)

# JPEG


def bad_huffman() -> bytes:
    """More codes of one bit than there are (T.81 C)."""
    data = bytearray(sound("jpeg", 330))
    at = data.index(b"\xff\xc4") + 5
    data[at] = 9
    return bytes(data)


def repeated(marker: bytes, seed: int) -> bytes:
    """The same segment twice."""
    data = sound("jpeg", seed)
    at = data.index(marker)
    end = at + 2 + struct.unpack_from(">H", data, at + 2)[0]
    return data[:end] + data[at:end] + data[end:]


def late_height() -> bytes:
    """Height 0, told behind the scan (T.81 B.2.5)."""
    data = bytearray(sound("jpeg", 332))
    at = data.index(b"\xff\xc0") + 5
    height = bytes(data[at : at + 2])
    data[at : at + 2] = b"\0\0"
    return bytes(data[:-2]) + segment(0xDC, height) + b"\xff\xd9"


def extended(claimed: int) -> bytes:
    head = b"http://ns.adobe.com/xmp/extension/\0" + b"A" * 32
    return segment(0xE1, head + struct.pack(">II", claimed, claimed // 2) + b"<x/>" * 9)


def resources(*blocks: bytes) -> bytes:
    return segment(0xED, b"Photoshop 3.0\0" + b"".join(blocks))


def icc_part(number: int, count: int, data: bytes) -> bytes:
    return segment(0xE2, b"ICC_PROFILE\0" + bytes((number, count)) + data)


def nested(levels: int) -> bytes:
    """A chain of directories, each the Exif directory of the one before."""
    out = b"II*\0\x08\0\0\0"
    for level in range(levels):
        out += struct.pack("<HHHIII", 1, 0x8769, 4, 1, 8 + 18 * (level + 1), 0)
    return out + bytes(6)


def circle() -> bytes:
    """Two directories that are each other's next, and each other's GPS directory."""
    one = struct.pack("<HHHIII", 1, 0x8825, 4, 1, 26, 26)
    two = struct.pack("<HHHIII", 1, 0x8825, 4, 1, 8, 8)
    return b"II*\0\x08\0\0\0" + one + two


def many_entries(count: int) -> bytes:
    entry = struct.pack("<HHII", 0x9003, 2, 4, 0x30303030)
    return b"II*\0\x08\0\0\0" + struct.pack("<H", count) + entry * count + bytes(4)


FAR = directories([{0x10F: (2, b"a\0")}])[:-10] + struct.pack("<I", 2**32 - 2) + b"a\0\0\0\0\0"
ODD_TYPES = directories(
    [{0x112: (2, b"6\0"), 0x11A: (3, 72), 0x128: (2, b"inch\0"), 0x131: (7, SPEECH)}]
)
NEGATIVE_PLACE = directories(
    [{0x10F: (2, b"m\0")}],
    pointers={0x8825: {1: (2, b"\x1b\0"), 2: (5, [2**32 - 1, 1] * 3), 29: (2, SPEECH + b"\0")}},
)

case("huffman-overfull", bad_huffman)
case("late-height", late_height)
case("two-frames", lambda: repeated(b"\xff\xc0", 333))
case("two-tables", lambda: repeated(b"\xff\xdb", 334), rule=None)
case("two-scans", lambda: sound("jpeg", 335)[:-2] + sound("jpeg", 335)[2:])
case("end-at-once", lambda: b"\xff\xd8\xff\xd9")
case("tables-only", lambda: b"\xff\xd8" + jpegs.tables_segment([1] * 64) + b"\xff\xd9")
case("no-components", lambda: jpegs.assembled(factors=()))
case("impossible-factors", lambda: jpegs.assembled(factors=(0x55, 0x11, 0x11)))
case("five-components", lambda: jpegs.assembled(factors=(0x11,) * 5))
case("huge-precision", lambda: jpegs.assembled(precision=255), words="255 bits")
case("arithmetic", lambda: jpegs.assembled(marker=0xC9))
case("lossless", lambda: jpegs.assembled(marker=0xC3))
case("hierarchical", lambda: jpegs.assembled(marker=0xC5))
case("segment-of-no-length", lambda: in_jpeg(336, b"\xff\xfe\0\0"))
case("segment-past-the-end", lambda: in_jpeg(337, b"\xff\xfe\xff\xff")[:9000])
case(
    "profile-in-255-parts",
    lambda: jpegs.with_segments(
        saved(without_profile("jpeg", 338), "JPEG", quality=95),
        *(icc_part(number, 255, b"a" * 200) for number in range(1, 255)),
    ),
    rule="color-profile",
    spec="profiled",
)
case(
    "profile-part-0-of-0",
    lambda: jpegs.with_segments(
        saved(without_profile("jpeg", 339), "JPEG", quality=95),
        icc_part(0, 0, profiles.matrix_profile()),
    ),
    rule="color-profile",
    spec="profiled",
)
case(
    "nested-directories", lambda: in_jpeg(340, exif_segment(nested(3000))), rule="metadata-location"
)
case(
    "directories-in-a-circle",
    lambda: in_jpeg(341, exif_segment(circle())),
    rule="metadata-location",
)
case(
    "thousands-of-entries",
    lambda: in_jpeg(342, exif_segment(many_entries(5000))),
    rule="metadata-location",
)
case("directory-far-away", lambda: in_jpeg(343, exif_segment(FAR)), rule=None)
case("odd-types", lambda: in_jpeg(344, exif_segment(ODD_TYPES)), rule=None)
case(
    "speaking-place",
    lambda: in_jpeg(345, exif_segment(NEGATIVE_PLACE)),
    rule="metadata-location",
)
case("exif-without-order", lambda: in_jpeg(346, exif_segment(b"XX*\0" + bytes(30))), rule=None)
case(
    "a-hundred-exif",
    lambda: in_jpeg(347, *[exif_segment(ODD_TYPES)] * 100),
    words="more than one Exif",
)
case("extended-of-4-gb", lambda: in_jpeg(348, extended(2**32 - 1)), rule=None)
case("extended-without-main", lambda: in_jpeg(349, *[extended(40)] * 30), rule=None)
case(
    "xmp-of-10000-attributes",
    lambda: in_jpeg(
        350,
        segment(
            0xE1,
            XMP_HEAD + xmp("", attributes=" ".join(f'dc:a{n}="1"' for n in range(4500)))[:65000],
        ),
    ),
    rule=None,
)
case(
    "xmp-in-utf-32",
    lambda: in_jpeg(
        351, segment(0xE1, XMP_HEAD + xmp("<dc:title>x</dc:title>").decode().encode("utf-32"))
    ),
    rule=None,
)
case(
    "xmp-with-outer-names",
    lambda: in_jpeg(
        352,
        segment(
            0xE1, XMP_HEAD + b'<!DOCTYPE a SYSTEM "file:///etc/passwd"><a>' + xmp("") + b"</a>"
        ),
    ),
    rule=None,
)
case(
    "iptc-of-4-gb",
    lambda: in_jpeg(
        353, resources(b"8BIM\4\4\0\0\0\0\0\x10\x1c\2\5\x80\4\xff\xff\xff\xff" + bytes(8))
    ),
    rule=None,
)
case(
    "resource-of-4-gb",
    lambda: in_jpeg(354, resources(b"8BIM\4\4\0\0\xff\xff\xff\xff" + bytes(40))),
    rule=None,
)
case(
    "speaking-iptc",
    lambda: in_jpeg(
        355,
        resources(
            b"8BIM\4\4\0\0" + struct.pack(">I", len(SPEECH) + 5) + iim((2, 90, SPEECH)) + b"\0"
        ),
    ),
    rule="metadata-location",
)
case(
    "two-thousand-creators",
    lambda: in_jpeg(
        356,
        segment(
            0xE1, XMP_HEAD + xmp(f"<dc:creator>{sequence(*['a<!-- -->'] * 1500)}</dc:creator>")
        ),
    ),
    rule=None,
)
case(
    "markup-credit",
    lambda: in_jpeg(
        357, exif_segment(directories([{0x13B: (2, b"<script>alert(1)</script>&#x1b;\0")}]))
    ),
    rule="metadata-credit",
    spec="credited",
)
