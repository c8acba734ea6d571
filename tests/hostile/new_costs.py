"""Files made to cost by what stands beside the pixels, and files that show two pictures.

Adds to ``cases.CASES`` and to ``attacks.COSTS``; each broke a limit of the promise when it was found.
"""

from __future__ import annotations

import io
import struct
import zlib
from typing import TYPE_CHECKING

import pictures
from attacks import COSTS, in_png, without_profile
from cases import case, sound
from header_files import PNG_START, chunk, ihdr, pixels, saved
from metadata_files import tiff as directories
from new_attacks import app, thumbnail, with_pictures
from PIL import Image

if TYPE_CHECKING:
    from collections.abc import Callable

MEGA = 1_000_000


def cost(
    name: str, make: Callable[[], bytes], kind: str, rule: str | None, words: str = ""
) -> None:
    COSTS.append(f"cost-{name}")
    case(COSTS[-1], make, kind=kind, rule=rule, words=words)


def previews_of_one_place() -> bytes:
    behind = b"\xff\xd8\xff\xe0" + bytes(50 * MEGA)
    return with_pictures(1300, behind, *[(0x10001, len(behind), 0)] * 999)


def preview_in_png(seed: int, preview: bytes) -> bytes:
    return in_png(seed, chunk(b"eXIf", thumbnail(preview)))


def endless_texts() -> bytes:
    """Each unpacks to what is left of the allowance, and then turns out to be cut."""
    packed = zlib.compress(bytes(15 * MEGA), 9)[:-10]
    return in_png(1301, *[chunk(b"iTXt", b"XML:com.adobe.xmp\0\1\0\0\0" + packed)] * 900)


def millions_of_words() -> bytes:
    text = b"\nexif\n 100\n" + b"45 " * 5_300_000
    return in_png(1302, chunk(b"zTXt", b"Raw profile type exif\0\0" + zlib.compress(text, 9)))


def many_empty_chunks() -> bytes:
    empty = chunk(b"teXt")
    return PNG_START + ihdr(100, 100) + empty * 1_200_000 + pixels(100, 100) + chunk(b"IEND")


def strips(width: int, height: int, rows: int, packing: int, data: bytes, fill: int = 1) -> bytes:
    """A gray TIFF all of whose strips are the same bytes."""
    count = -(-height // rows)
    fields = {256: (4, width), 257: (4, height), 258: (3, 8), 259: (3, packing), 262: (3, 1),
              266: (3, fill), 277: (3, 1), 278: (4, rows), 279: (4, [len(data)] * count)}  # fmt: skip
    place = len(directories([fields | {273: (4, [0] * count)}]))
    return directories([fields | {273: (4, [place] * count)}], tail=data)


def passes(side: int, rows: int) -> bytes:
    file = io.BytesIO()
    Image.new("L", (side, rows), 128).save(file, "JPEG", quality=90, progressive=True)
    data = file.getvalue()
    scan = data[data.rindex(b"\xff\xda") : -2]
    return strips(side, side, rows, 7, data[:-2] + scan * 90 + b"\xff\xd9")


def many_marks() -> bytes:
    """A name of letters with marks above and below in turn, which are sorted to be compared."""
    name = ("a" + "\u0300\u0316" * 250_000).encode() + b"\0"
    return in_png(1303, chunk(b"eXIf", directories([{0x13B: (2, name)}])))


def large(mode: str, kind: str = "PNG") -> bytes:
    return saved(Image.new(mode, (8000, 7990)), kind)


cost("previews-of-one-place", previews_of_one_place, "jpeg", "metadata-preview")
cost("texts-without-end", endless_texts, "png", "file-readable", "metadata")
cost("millions-of-words", millions_of_words, "png", None)
cost("marks-above-and-below", many_marks, "png", None)
cost(
    "preview-of-fill",
    lambda: preview_in_png(1304, b"\xff\xd8" + b"\xff" * 15 * MEGA + sound("jpeg", 1)[2:]),
    "png",
    "metadata-preview",
)
cost(
    "preview-of-less-fill",
    lambda: preview_in_png(1305, b"\xff\xd8" + b"\xff" * 4 * MEGA + sound("jpeg", 1)[2:]),
    "png",
    "metadata-preview",
)
cost(
    "preview-with-comment",
    lambda: preview_in_png(1306, b"P6 #" + b"a" * 4 * MEGA + b"\n10 10 255\n" + bytes(300)),
    "png",
    "metadata-preview",
)
cost(
    "preview-in-words",
    lambda: preview_in_png(1307, b"P3 1000 1000 255\n" + b"1 " * 2 * MEGA),
    "png",
    "metadata-preview",
)
cost(
    "preview-of-chunks",
    lambda: preview_in_png(1308, many_empty_chunks()),
    "png",
    "metadata-preview",
)
cost("tiff-passes", lambda: passes(7000, 7000), "tiff", "file-readable", "passes")
cost("tiff-passes-in-strips", lambda: passes(8000, 800), "tiff", "file-readable", "passes")
cost(
    "tiff-strips-over-each-other",
    lambda: strips(64, 20_000, 1, 8, zlib.compress(bytes(64)).ljust(1 << 20, b"\0"), 2),
    "tiff",
    "file-readable",
    "over each other",
)
for _mode in ("RGBA", "LA", "I;16"):
    cost(
        f"png-{_mode.lower().replace(';', '-')}-of-64-megapixels",
        lambda mode=_mode: large(mode),
        "png",
        "file-readable",
        "megapixels",
    )
cost("tiff-f-of-64-megapixels", lambda: saved(Image.new("F", (8000, 7990)), "TIFF",
     compression="tiff_lzw"), "tiff", "file-readable", "megapixels")  # fmt: skip

# Two pictures, or two colors, of which each program shows one


def rows_of(picture: Image.Image) -> bytes:
    lines = (picture.crop((0, y, picture.width, y + 1)).tobytes() for y in range(picture.height))
    return zlib.compress(b"".join(b"\0" + line for line in lines))


def other_default() -> bytes:
    """An animation of one frame, which is not the picture that other programs show (PNG, 5.3)."""
    data = sound("png", 1310)
    width, height = struct.unpack_from(">II", data, 16)
    control = struct.pack(">IIIIIHHBB", 0, width, height, 0, 0, 1, 10, 0, 0)
    frame = struct.pack(">I", 1) + rows_of(Image.new("RGB", (width, height), "red"))
    start = chunk(b"acTL", struct.pack(">II", 1, 0))
    more = chunk(b"fcTL", control) + chunk(b"fdAT", frame)
    return data[:33] + start + data[33:-12] + more + data[-12:]


def see_through(seed: int, *before: int, behind: tuple[int, ...] = ()) -> bytes:
    """A color table of 8, all of the given alpha, told more than once or too late."""
    data = saved(without_profile("png", seed).quantize(8), "PNG")
    at = data.index(b"IDAT") - 4
    told = [b"".join(chunk(b"tRNS", bytes([a] * 8)) for a in alphas) for alphas in (before, behind)]
    return data[:at] + told[0] + data[at:-12] + told[1] + data[-12:]


def late_profile() -> bytes:
    picture = without_profile("jpeg", 1315, 200)
    data = saved(picture, "JPEG", quality=95, progressive=True)
    at = data.rindex(b"\xff\xda")
    return data[:at] + app(2, b"ICC_PROFILE\0\1\1" + pictures.srgb()) + data[at:]


case("other-default-picture", other_default, kind="png", rule="single-frame", spec="single")
case(
    "see-through-then-opaque",
    lambda: see_through(1311, 128, 255),  # with 0 it would be blank as well
    kind="png",
    rule="transparency",
    spec="opaque",
)
case("opaque-then-see-through", lambda: see_through(1312, 255, 0), kind="png", rule=None,
     spec="opaque")  # fmt: skip
case("see-through-too-late", lambda: see_through(1313, behind=(0,)), kind="png", rule=None,
     spec="opaque")  # fmt: skip
case("profile-too-late", late_profile, rule="color-profile", spec="profiled", words="too late")
