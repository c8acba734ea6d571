"""More hostile bytes: files of two kinds, oddities of each format's animation, loops in structures.

Adds to ``cases.CASES``. A case with ``rule=None`` is odd but sound by its format's standard.
"""

from __future__ import annotations

import gzip
import io
import struct
import tarfile
import zlib

import jpegs
import profiles
from attacks import SPEECH, exif_segment, in_jpeg, in_png, without_profile
from cases import archive, case, sound
from header_files import (
    FTYP,
    PNG_START,
    animated_png,
    anmf,
    application,
    avif,
    box,
    chunk,
    fctl,
    ihdr,
    infe,
    ispe,
    riff_chunk,
    saved,
    vp8x,
    webp,
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
case("nested-directories", lambda: in_jpeg(340, exif_segment(nested(3000))), rule=None)
case(
    "directories-in-a-circle",
    lambda: in_jpeg(341, exif_segment(circle())),
    rule="metadata-location",
)
case("thousands-of-entries", lambda: in_jpeg(342, exif_segment(many_entries(5000))), rule=None)
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

# PNG


def packed_twice() -> bytes:
    """The compressed data go on behind their end."""
    data = saved(without_profile("png", 360), "PNG")
    at = data.index(b"IDAT") - 4
    size = int.from_bytes(data[at : at + 4], "big")
    body = data[at + 8 : at + 8 + size]
    return data[:at] + chunk(b"IDAT", body + body) + chunk(b"IEND")


def split(parts: int) -> bytes:
    """The picture data a byte to a chunk, with empty chunks between."""
    data = saved(without_profile("png", 361, 8), "PNG")
    at = data.index(b"IDAT") - 4
    size = int.from_bytes(data[at : at + 4], "big")
    body = data[at + 8 : at + 8 + size]
    cut = [chunk(b"IDAT", body[n : n + 1]) for n in range(size)]
    return data[:at] + b"".join(cut) + chunk(b"IDAT") * parts + chunk(b"IEND")


def rows(filter_type: int, width: int = 40, height: int = 30) -> bytes:
    body = zlib.compress((bytes([filter_type]) + bytes(width * 3)) * height)
    return PNG_START + ihdr(width, height) + chunk(b"IDAT", body) + chunk(b"IEND")


def moving_png(*parts: bytes) -> bytes:
    data = sound("png", 370)
    return data[:33] + b"".join(parts) + data[33:]


def indexed(size: int) -> bytes:
    head = PNG_START + ihdr(8, 8, kind=3) + chunk(b"PLTE", bytes(size))
    return head + chunk(b"IDAT", zlib.compress(bytes(9 * 8))) + chunk(b"IEND")


ACTL = chunk(b"acTL", struct.pack(">II", 0, 0))

case("unknown-critical", lambda: in_png(362, chunk(b"EVIL", SPEECH)), kind="png")
case("impossible-filter", lambda: rows(5), kind="png")
case("filters-without-end", lambda: rows(255), kind="png")
case("data-behind-data", packed_twice, kind="png", rule=None)
case("a-byte-to-a-chunk", lambda: split(3000), kind="png", rule=None)
case(
    "preset-dictionary",
    lambda: PNG_START + ihdr() + chunk(b"IDAT", b"\x78\xbb" + bytes(40)) + chunk(b"IEND"),
    kind="png",
)
case("advice-of-333-colors", lambda: in_png(363, chunk(b"PLTE", bytes(999))), kind="png", rule=None)
case("palette-of-999", lambda: indexed(999), kind="png", words="color table")
case("palette-of-10", lambda: indexed(10), kind="png", words="color table")
case("palette-of-0", lambda: indexed(0), kind="png", words="color table")
case("density-of-2-to-32", lambda: in_png(364, chunk(b"pHYs", b"\xff" * 8 + b"\1")), kind="png",
     rule="density", spec="dense")  # fmt: skip
case("colors-at-zero", lambda: in_png(365, chunk(b"cHRM", bytes(32)), chunk(b"gAMA", bytes(4))),
     kind="png", rule=None)  # fmt: skip
case("no-frames", lambda: moving_png(ACTL), kind="png")
case("frame-before-animation", lambda: moving_png(fctl(0)), kind="png", rule=None)
case("frame-outside", lambda: moving_png(chunk(b"acTL", struct.pack(">II", 1, 0)),
     fctl(0, 96, 96, 2**31, 2**31)), kind="png")  # fmt: skip
case("frame-numbers", lambda: animated_png(3).replace(fctl(1), fctl(9)), kind="png")
case("chunk-of-2-gb", lambda: PNG_START + ihdr() + b"\x7f\xff\xff\xffIDAT" + bytes(99), kind="png")
case("name-with-escapes", lambda: sound("png", 366)[:33] + chunk(b"\x1b[2J", b"a"), kind="png")
case(
    "profile-name-with-escapes",
    lambda: (
        saved(without_profile("png", 367), "PNG")[:33]
        + chunk(b"iCCP", SPEECH + b"\0\0" + zlib.compress(profiles.matrix_profile()))
        + saved(without_profile("png", 367), "PNG")[33:]
    ),
    kind="png",
    rule=None,
)

# GIF


def gif_code_size(size: int) -> bytes:
    data = bytearray(saved(without_profile("gif", 380 + size).quantize(16), "GIF"))
    at = data.index(b",\0\0\0\0")
    assert not data[at + 9] & 0x80  # no color table of the frame's own
    data[at + 10] = size
    return bytes(data)


def gif_frame(left: int, top: int, width: int, height: int) -> bytes:
    frame = b"," + struct.pack("<HHHHB", left, top, width, height, 0) + b"\2\2\x84\x51\0"
    return sound("gif", 381)[:-1] + frame + b";"


case("gif-code-size-0", lambda: gif_code_size(0), kind="gif")
case("gif-code-size-12", lambda: gif_code_size(12), kind="gif")
case("gif-frame-of-nothing", lambda: gif_frame(0, 0, 0, 0), kind="gif", rule=None)
case("gif-frame-of-65535", lambda: gif_frame(0, 0, 65535, 65535), kind="gif")
case("gif-frame-outside", lambda: gif_frame(65535, 65535, 4, 3), kind="gif")
case(
    "gif-loops",
    lambda: sound("gif", 382)[:-1] + application(b"NETSCAPE2.0", b"\3\1\xff\xff\0") * 500 + b";",
    kind="gif",
    rule=None,
)
case(
    "gif-of-controls",
    lambda: sound("gif", 383)[:-1] + b"!\xf9\4\1\0\0\xff\0" * 5000 + b";",
    kind="gif",
    rule=None,
)
case("gif-unknown-block", lambda: sound("gif", 384)[:-1] + b"\x1b[2J;", kind="gif")

# WebP

case("webp-in-webp", lambda: webp(sound("webp", 390)), kind="webp")
case(
    "webp-of-flags",
    lambda: webp(vp8x(0xFF, 96, 96), *[riff_chunk(b"EXIF", SPEECH)] * 50),
    kind="webp",
)
case(
    "webp-other-size-within",
    lambda: webp(vp8x(0, 16384, 16384), sound("webp", 391)[12:]),
    kind="webp",
)
case("webp-frame-outside", lambda: webp(vp8x(2), riff_chunk(b"ANIM", bytes(6)), anmf(left=2**20)),
     kind="webp")  # fmt: skip
case(
    "webp-with-chunk-past-the-end",
    lambda: webp(sound("webp", 392)[12:], b"ALPH\xff\xff\xff\x7f" + bytes(22)),
    kind="webp",
)

# AVIF


def deep_boxes(levels: int) -> bytes:
    inside = b""
    for _ in range(levels):
        inside = box(b"meta", inside, full=0)
    return FTYP + inside


def grid(columns: int, across: int) -> bytes:
    """A picture put together of others, itself among them."""
    head = bytes((0, 1, columns - 1, columns - 1)) + struct.pack(">II", across, across)
    tiles = struct.pack(">HH", 1, columns * columns) + struct.pack(">H", 1) * columns * columns
    return avif(
        box(b"iref", box(b"dimg", tiles), full=0),
        box(b"idat", head),
        properties=(ispe(across, across),),
    )


def endless_box() -> bytes:
    return FTYP + struct.pack(">I4sQ", 1, b"meta", 2**63) + bytes(200)


def half_turned(box_name: bytes, values: bytes) -> bytes:
    return avif(properties=(ispe(4, 3), box(box_name, values)))


case("avif-deep", lambda: deep_boxes(2000), kind="avif")
case("avif-grid-of-itself", lambda: grid(200, 60_000), kind="avif")
case("avif-small-grid-of-itself", lambda: grid(2, 64), kind="avif")
case("avif-endless-box", endless_box, kind="avif")
case("avif-clap-over-zero", lambda: half_turned(b"clap", bytes(32)), kind="avif")
case("avif-turned", lambda: half_turned(b"irot", b"\xff"), kind="avif")
case("avif-of-many-items", lambda: avif(*[infe(1, b"av01")] * 3000), kind="avif")
case(
    "avif-of-many-properties",
    lambda: avif(properties=(ispe(4, 3),) * 120),
    kind="avif",
)
case(
    "avif-elsewhere",
    lambda: avif(
        locations=box(
            b"iloc",
            struct.pack(">HHHHIHII", 0x4440, 1, 1, 0, 2**31, 1, 2**32 - 1, 2**32 - 1),
            full=0,
        )
    ),
    kind="avif",
)
case(
    "avif-in-many-places",
    lambda: avif(
        locations=box(
            b"iloc",
            struct.pack(">HHHHIH", 0x4440, 1, 1, 0, 0, 65535) + struct.pack(">II", 0, 9000) * 65535,
            full=0,
        )
    ),
    kind="avif",
)

# TIFF


def tags(**changed: tuple[int, object]) -> bytes:
    """A gray TIFF of 8 x 8 px with other values in its directory; names are "t" and the tag's number."""
    plain: dict[int, tuple[int, object]] = {
        256: (3, 8),
        257: (3, 8),
        258: (3, 8),
        259: (3, 1),
        262: (3, 1),
        273: (4, "tail"),
        277: (3, 1),
        278: (3, 8),
        279: (4, 64),
    }
    other = {int(name[1:]): value for name, value in changed.items()}
    start = sum(other) % 190  # so that no two of them are the same picture
    return directories(
        [dict(sorted((plain | other).items()))], tail=bytes(range(start, start + 64))
    )


case("tiff-no-width", lambda: tags(t256=(3, 0)), kind="tiff")
case("tiff-width-of-2-to-32", lambda: tags(t256=(4, 2**32 - 1)), kind="tiff")
case("tiff-negative-width", lambda: tags(t256=(9, -8)), kind="tiff")
case("tiff-width-as-text", lambda: tags(t256=(2, b"8\0")), kind="tiff")
case("tiff-samples-of-64-bits", lambda: tags(t258=(3, 64)), kind="tiff")
case("tiff-65535-samples", lambda: tags(t277=(3, 65535)), kind="tiff")
case("tiff-no-rows-in-a-strip", lambda: tags(t278=(3, 0)), kind="tiff")
case("tiff-strip-far-away", lambda: tags(t273=(4, 2**32 - 1)), kind="tiff")
case("tiff-strip-too-long", lambda: tags(t279=(4, 2**32 - 1)), kind="tiff", rule=None)
case("tiff-packed-strip-too-long", lambda: tags(t259=(3, 5), t279=(4, 2**32 - 1)), kind="tiff")
case("tiff-unknown-packing", lambda: tags(t259=(3, 34712)), kind="tiff")
case("tiff-impossible-predictor", lambda: tags(t259=(3, 8), t317=(3, 3)), kind="tiff")
case("tiff-packed-noise", lambda: tags(t259=(3, 5)), kind="tiff")
case("tiff-jpeg-of-noise", lambda: tags(t259=(3, 7)), kind="tiff")
case("tiff-no-color-table", lambda: tags(t262=(3, 3)), kind="tiff")
case("tiff-tile-of-nothing", lambda: tags(t322=(3, 0), t323=(3, 0), t324=(4, 0), t325=(4, 0)),
     kind="tiff")  # fmt: skip
case("tiff-upside-down-times-9", lambda: tags(t274=(3, 9)), kind="tiff", rule=None)
case("tiff-speaking", lambda: tags(t270=(2, SPEECH + b"\0"), t305=(2, SPEECH + b"\0")),
     kind="tiff", rule=None)  # fmt: skip
case(
    "big-tiff-of-2-to-63",
    lambda: b"II+\0\x08\0\0\0" + struct.pack("<QQ", 16, 2**63) + bytes(200),
    kind="tiff",
)
case("tiff-directories-in-a-circle", circle, kind="tiff")
case("tiff-nested", lambda: nested(3000), kind="tiff")

# Names that only others would read as something

for _number, (_name, _file) in enumerate(
    {
        "encoded-line-name": "images/a%0A::error::x.jpg",
        "expression-name": "images/${{ github.token }}.jpg",
        "template-name": "images/{{7*7}}{%x%}.jpg",
        "quotes-name": "images/\"'`<!--.jpg",
        "link-name": "images/[x](javascript:alert(1)).jpg",
        "table-name": "images/a|b|c.jpg",
        "format-name": "images/%s%n{0}{self}.jpg",
        "dots-name": "images/....jpg",
        "dash-name": "images/-.jpg",
        "node-name": "images/a[b]::c.jpg",
        "nested-end-name": "images/]]><![CDATA[.jpg",
        "long-name": f"images/{'n' * 240}.jpg",
        "emoji-name": "images/\U0001f600.jpg",
        "greek-name": "images/ΑΒΓ.jpg",
    }.items()
):
    case(_name, lambda seed=400 + _number: sound("jpeg", seed), file=_file, rule=None)
