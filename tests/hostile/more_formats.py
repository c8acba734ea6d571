"""More hostile bytes: oddities of PNG, GIF, WebP, AVIF and TIFF, their animations, loops in structures.

Adds to ``cases.CASES``. A case with ``rule=None`` is odd but sound by its format's standard.
"""

from __future__ import annotations

import struct
import zlib

import profiles
from attacks import SPEECH, in_png, without_profile
from cases import case, sound
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
from metadata_files import tiff as directories
from more_attacks import circle, nested

PAGE = b"<!DOCTYPE html><html><script>alert(1)</script></html>"
XMP_HEAD = b"http://ns.adobe.com/xap/1.0/\0"

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
