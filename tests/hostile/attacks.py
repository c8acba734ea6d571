"""Hostile bytes: pictures made to mislead, to cost, or to say something. Adds to ``cases.CASES``.

``COSTS`` names those that are expensive for a reader without limits.
"""

from __future__ import annotations

import io
import struct
import zlib

import pictures
from cases import case, sound
from header_files import (
    FTYP,
    animated_png,
    application,
    avif,
    chunk,
    ihdr,
    ispe,
    png,
    riff_chunk,
    saved,
    webp,
)
from jpegs import cut_and_closed, data_span, segment, with_segments
from metadata_files import tiff as directories
from metadata_files import xmp
from PIL import Image
from test_decode_damage import ATTACKS as DECODING
from test_motion_costs import ATTACKS as MOVING

XMP_HEAD = b"http://ns.adobe.com/xap/1.0/\0"
ENTITIES = b"""<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "::error::bomb">
<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;"><!ENTITY d "&c;&c;&c;&c;&c;&c;&c;&c;">
<!ENTITY e SYSTEM "file:///etc/passwd">]><a>&d;&e;</a>"""
DEEP = b"<a>" * 9000 + b"</a>" * 9000
SPEECH = b"\x1b[2J\n::error::owned\n##[error]owned\xe2\x80\xae"


def exif_segment(data: bytes) -> bytes:
    return segment(0xE1, b"Exif\0\0" + data)


def in_jpeg(seed: int, *segments: bytes) -> bytes:
    return with_segments(sound("jpeg", seed), *segments)


def in_png(seed: int, *chunks: bytes) -> bytes:
    data = sound("png", seed)
    return data[:33] + b"".join(chunks) + data[33:]


def without_profile(kind: str, seed: int, side: int = 64) -> Image.Image:
    with Image.open(io.BytesIO(sound(kind, seed, side))) as opened:
        plain = Image.new("RGB", opened.size)
        plain.paste(opened.convert("RGB"))
    return plain


# JPEG

LOOPED = directories([{0x10F: (2, b"maker\0")}])
LOOPED = LOOPED[:-10] + struct.pack("<I", 8) + LOOPED[-6:]  # its own next directory
HUGE_COUNT = b"II*\0\x08\0\0\0\x01\0" + struct.pack("<HHII", 0x10F, 2, 2**32 - 1, 26) + bytes(40)
DENSITY = directories(
    [{0x11A: (5, [0, 0]), 0x11B: (5, [0, 0]), 0x128: (3, 2), 0x131: (2, SPEECH + b"\0")}]
)
PLACE = directories(
    [{0x10F: (2, SPEECH + b"\0")}], pointers={0x8825: {1: (2, b"N\0"), 2: (5, [1, 0, 1, 0, 1, 0])}}
)


def zeroed() -> bytes:
    data = sound("jpeg", 20, 200)
    start, end = data_span(data)
    third = (end - start) // 3
    return data[: start + third] + bytes(third) + data[end - third :]


def second_part_only() -> bytes:
    profile = pictures.srgb()
    half = segment(0xE2, b"ICC_PROFILE\0\2\2" + profile[len(profile) // 2 :])
    return with_segments(saved(without_profile("jpeg", 21), "JPEG", quality=95), half)


def multi_picture() -> bytes:
    buffer = io.BytesIO()
    first = without_profile("jpeg", 22)
    more = [without_profile("jpeg", seed) for seed in (23, 24)]
    first.save(buffer, "MPO", save_all=True, append_images=more, quality=95)
    data = bytearray(buffer.getvalue())
    at = data.rindex(b"\xff\xc0") + 5
    struct.pack_into(">HH", data, at, 65500, 65500)
    return bytes(data)


def profile_in_jpeg(profile: bytes) -> bytes:
    return saved(
        without_profile("jpeg", 200 + len(profile)), "JPEG", quality=95, icc_profile=profile
    )


def inverted() -> bytes:
    return saved(without_profile("jpeg", 26).convert("CMYK"), "JPEG", quality=95)


case("glued", lambda: sound("jpeg", 27) + sound("jpeg", 28), words="follow the end")
case("zeroed-middle", zeroed)
case("cut-and-closed", lambda: cut_and_closed(sound("jpeg", 29, 200), 0.6))
case("cut-progressive", lambda: cut_and_closed(progressive(), 0.5))
case("second-part-only", second_part_only, rule="color-profile", spec="profiled")
case(
    "no-signature",
    lambda: profile_in_jpeg(pictures.srgb()[:36] + b"none" + pictures.srgb()[40:]),
    rule="color-profile",
    spec="profiled",
)
case(
    "short-profile",
    lambda: profile_in_jpeg(pictures.srgb()[:100]),
    rule="color-profile",
    spec="profiled",
)
case("speaking-profile", lambda: profile_in_jpeg(SPEECH * 9), rule="color-profile", spec="profiled")
case("cmyk", inverted, rule="color-mode", spec="colored")
case("no-density", lambda: in_jpeg(30, exif_segment(DENSITY)), rule=None)
case(
    "jfif-no-density",
    lambda: sound("jpeg", 31).replace(b"JFIF\0\1\1\1\0\x48\0\x48", b"JFIF\0\1\1\1\0\0\0\0"),
    rule="density",
    spec="dense",
)
case("exif-loop", lambda: in_jpeg(32, exif_segment(LOOPED)), rule=None)
case("exif-count", lambda: in_jpeg(33, exif_segment(HUGE_COUNT)), rule=None)
case("exif-noise", lambda: in_jpeg(34, exif_segment(b"II*\0" + bytes(range(256)) * 9)), rule=None)
case("odd-place", lambda: in_jpeg(35, exif_segment(PLACE)), rule="metadata-location")
case("entities", lambda: in_jpeg(36, segment(0xE1, XMP_HEAD + ENTITIES)), rule=None)
case("deep-xmp", lambda: in_jpeg(37, segment(0xE1, XMP_HEAD + DEEP)), rule="metadata-location")
case("speaking-comment", lambda: in_jpeg(38, segment(0xFE, SPEECH)), rule=None)
case(
    "speaking-credit",
    lambda: in_jpeg(39, exif_segment(directories([{0x13B: (2, SPEECH + b"\0")}]))),
    rule="metadata-credit",
    spec="credited",
)
case(
    "speaking-xmp",
    lambda: in_jpeg(
        40,
        segment(
            0xE1,
            XMP_HEAD
            + xmp(
                "<dc:creator><rdf:Seq><rdf:li>&#10;::error::x&#10;##[error]&#x202e;</rdf:li></rdf:Seq></dc:creator>"
            ),
        ),
    ),
    rule="metadata-credit",
    spec="credited",
)
case("multi-picture", multi_picture, rule=None)  # only the first picture is decoded
case("no-table", lambda: sound("jpeg", 41).replace(b"\xff\xdb", b"\xff\xfe"))
case("no-pixels", lambda: with_size(sound("jpeg", 42), 0, 0))
case("extreme-line", lambda: with_size(sound("jpeg", 43), 65500, 1))


def progressive() -> bytes:
    return saved(without_profile("jpeg", 44, 200), "JPEG", quality=90, progressive=True)


def with_size(data: bytes, width: int, height: int) -> bytes:
    at = data.index(b"\xff\xc0") + 5
    return data[:at] + struct.pack(">HH", height, width) + data[at + 4 :]


# PNG


def wrong_checksum() -> bytes:
    data = bytearray(sound("png", 45))
    data[data.index(b"IDAT") + 200] ^= 1
    return bytes(data)


case("wrong-checksum", wrong_checksum, kind="png")
case("no-end", lambda: sound("png", 46)[:-12], kind="png")
case("text-after-end", lambda: sound("png", 47) + SPEECH, kind="png")
case(
    "profile-bomb",
    lambda: in_png_alone(chunk(b"iCCP", b"a\0\0" + zlib.compress(bytes(10**8), 9))),
    kind="png",
    rule="color-profile",
    spec="profiled",
)
case(
    "profile-not-packed",
    lambda: in_png_alone(chunk(b"iCCP", b"a\0\0" + SPEECH)),
    kind="png",
    rule="color-profile",
    spec="profiled",
)
case(
    "packed-text-bomb",
    lambda: in_png(48, chunk(b"zTXt", b"a\0\0" + zlib.compress(bytes(10**8), 9))),
    kind="png",
    rule=None,
)
case("bad-exif-chunk", lambda: in_png(49, chunk(b"eXIf", SPEECH)), kind="png", rule=None)
case(
    "xmp-bomb-chunk",
    lambda: in_png(
        50, chunk(b"iTXt", b"XML:com.adobe.xmp\0\1\0\0\0" + zlib.compress(bytes(10**8), 9))
    ),
    kind="png",
    words="metadata",
)
case("no-picture-data", lambda: png_start() + chunk(b"IEND"), kind="png")
case("no-palette", lambda: png(head=ihdr(kind=3)), kind="png")
case("impossible-depth", lambda: png(head=ihdr(depth=3)), kind="png")
case("zero-size", lambda: png(head=ihdr(width=0)), kind="png")
case("too-little-data", lambda: png(head=ihdr(400, 300)), kind="png")
case("frames-without-end", lambda: animated_png(2, claimed=2**31 - 1), kind="png")
case(
    "one-bit", lambda: saved(without_profile("png", 51).convert("1"), "PNG"), kind="png", rule=None
)
case(
    "palette",
    lambda: saved(
        without_profile("png", 52).quantize(9), "PNG", transparency=bytes(range(0, 250, 30))
    ),
    kind="png",
    rule=None,
)
case(
    "sixteen-bits",
    lambda: saved(
        without_profile("png", 53).convert("I").point(lambda value: value * 257).convert("I;16"),
        "PNG",
    ),
    kind="png",
    rule=None,
)


def png_start() -> bytes:
    return sound("png")[:33]


def in_png_alone(extra: bytes) -> bytes:
    data = saved(without_profile("png", 200 + len(extra)), "PNG")
    return data[:33] + extra + data[33:]


# GIF, WebP, AVIF, TIFF

case(
    "speaking-gif",
    lambda: sound("gif", 55)[:-1] + b"!\xfe" + bytes([len(SPEECH)]) + SPEECH + b"\0;",
    kind="gif",
    rule=None,
)
case(
    "bad-gif-xmp",
    lambda: sound("gif", 56)[:-1] + application(b"XMP DataXMP", ENTITIES + b"\0") + b";",
    kind="gif",
)
case("gif-without-frames", lambda: sound("gif")[:13] + b";", kind="gif")
case("webp-wrong-size", lambda: sound("webp")[:4] + b"\xff" * 4 + sound("webp")[8:], kind="webp")
case("webp-of-nothing", lambda: webp(riff_chunk(b"JUNK", SPEECH)), kind="webp")
case("avif-60000", lambda: avif(properties=(ispe(60000, 60000),)), kind="avif")
case("avif-of-nothing", lambda: FTYP, kind="avif")
case("avif-noise", lambda: FTYP + bytes(range(256)) * 50, kind="avif")
case(
    "float-tiff",
    lambda: saved(without_profile("tiff", 57).convert("F"), "TIFF"),
    kind="tiff",
    rule=None,
)
case("tiff-loop", lambda: b"II*\0\x08\0\0\0\0\0\x08\0\0\0" + bytes(20), kind="tiff")
case("tiff-far-directory", lambda: b"II*\0\xff\xff\xff\xff" + bytes(99), kind="tiff")

COSTS = []
_RULES = {
    "png-text-bomb": None,
    "webp-26-megapixels": "blank-picture",
    "tiff-deflate-bomb": "blank-picture",
}
_UNREADABLE = {"gif-9000-px-300-frames", "gif-100-px-frames-of-13000-px"}
for _name, _make in DECODING.items():
    if _name not in {"jpeg-60-scans-of-6-megapixels", "jpeg-60-scans-of-16-megapixels"}:
        COSTS.append(f"cost-{_name}")
        case(
            COSTS[-1],
            _make,
            kind=_name.partition("-")[0],
            rule=_RULES.get(_name, "file-readable"),
            spec="single" if "tiff" not in _name and "webp" not in _name else "open",
        )
for _name, _make in MOVING.items():
    if _name.split("-")[1] != "noise" and "growing" not in _name:
        COSTS.append(f"moving-{_name}")
        case(
            COSTS[-1],
            _make,
            kind=_name.partition("-")[0],
            rule="file-readable" if _name in _UNREADABLE else "single-frame",
            spec="single",
        )
