"""Decode one picture to its last pixel, or say in one sentence why that cannot be done.

What a decode may cost is decided from the header, before a pixel is touched; then Pillow decodes
only the format that the header found, from a file pruned of metadata, and whatever it raises
becomes a sentence. A decode cannot be stopped once begun, but its cost follows from pixels and scans;
what is dear all the same (``is_heavy``) is left to a process that can be ended, in case a decoder does
what no header foretells. Measured on 2 cores, Pillow 13.0.0, process time:

- 2 to 25 ns a pixel for photographs and noise in any format, 50 in AVIF at quality 100: 3.2 s for
  64 megapixels at worst, spread over the processors in AVIF;
- each scan of a progressive JPEG up to 2 ns a pixel, and these are decoded twice: 1.6 s for
  the limit of pixels times scans;
- memory: BYTES_PER_PIXEL below, and the file itself.

At the limits, file and decoding, processor time and peak of the process: JPEG of 64 megapixels 0.5 s
and 304 MiB; progressive, 39 megapixels, 1.0 s and 489 MiB; 60 scans of 8 megapixels in 62 MB, 4.4 s
and 288 MiB; PNG of 64 megapixels 1.7 s and 347 MiB; WebP of 29, 0.5 s and 472 MiB; AVIF of 46, 0.9 s
and 432 MiB; CMYK TIFF of 64, bare, 0.2 s and 509 MiB. The limits were then lowered by a sixteenth in
memory and a fifth in scans.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from PIL import Image, UnidentifiedImageError

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.measure.headers.jpeg_scan import PictureFeed
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits
from pytest_webdeliverable.measure.pruned import for_decoding

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.headers.base import Header

PLUGINS: Final = {
    "jpeg": "JPEG",
    "png": "PNG",
    "webp": "WEBP",
    "avif": "AVIF",
    "gif": "GIF",
    "tiff": "TIFF",
}
"""Pillow's names; multi-picture JPEG (MPO) is reached through its JPEG."""

BYTES_PER_PIXEL: Final = {"jpeg": 4, "png": 4, "webp": 16, "avif": 10, "gif": 5, "tiff": 4}
"""Memory of a decode at its peak, measured and rounded up."""
SCANS_BYTES_PER_PIXEL: Final = 12
"""The same of a JPEG in several scans: 7, then two decodings and their difference."""
ALPHA_BYTES_PER_PIXEL: Final = (9, 12)
"""The same where the picture has transparency, in color and in gray: it is measured in copies."""
DEEP_BYTES_PER_PIXEL: Final = 13
"""The same of gray of more than 8 bits, which is measured as numbers of 32 bits."""
DEEP_ALPHA_BYTES_PER_PIXEL: Final = 15
"""The same where such a picture has transparency: it is held in both depths."""
RGB_BYTES_PER_PIXEL: Final = 4
"""What a Lab picture takes once more when it is turned into RGB."""

HEAVY_SCANS: Final = 16
"""Passes of a JPEG from which it is heavy: one more than was seen in honest files."""
HEAVY_FRAME_PIXELS: Final = 100_000_000
"""Pixels of all frames from which an animation is heavy: 48 frames of 1920 x 1080."""

_DAMAGED: Final = "the picture cannot be decoded to its end: the file is damaged or cut short"
_UNKNOWN: Final = (
    "the picture cannot be decoded: the file is damaged, or stores it in an uncommon way"
)
_TURNS: Final = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
"""Exif 3.0, tag 0x0112: what shows the picture upright."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decoded:
    """The first picture of a file, as stored (not turned), or the reason why there is none.

    ``problem`` is a sentence for a designer; ``detail`` what the decoder said, made safe to print.
    """

    picture: Image.Image | None = None
    problem: str | None = None
    detail: str | None = None


def apply_orientation(picture: Image.Image, flag: int | None) -> Image.Image:
    """Turn a stored picture as its Exif orientation flag says; unknown flags leave it as it is."""
    turn = _TURNS.get(flag or 1)
    return picture if turn is None else picture.transpose(turn)


def forget_foreign_table(opened: Image.Image) -> None:
    """Take from a gray picture that is not loaded yet a color table which is not its own.

    Pillow takes a GIF's frame whose own table is that of all grays in order for gray, but keeps the
    table of the file for it, which then gives the colors.
    """
    if opened.mode == "L":
        opened.palette = None


def _rgb_of_lab(picture: Image.Image) -> Image.Image:
    """Turn Lab into sRGB: Pillow's own conversions know no Lab."""
    from PIL import ImageCms

    lab, rgb = ImageCms.createProfile("LAB"), ImageCms.createProfile("sRGB")
    transform = ImageCms.buildTransform(lab, rgb, "LAB", "RGB")
    turned = ImageCms.applyTransform(picture, transform)
    assert turned is not None, "not in place"
    return turned


def _clear_around(picture: Image.Image, box: tuple[int, int, int, int]) -> Image.Image:
    """Make see-through what a first frame does not cover; Pillow fills it with a color of its own."""
    left, top, right, bottom = box
    width, height = picture.size
    whole = picture.convert("RGBA")
    for free in (
        (0, 0, width, top),
        (0, top, left, bottom),
        (right, top, width, bottom),
        (0, bottom, width, height),
    ):
        whole.paste((0, 0, 0, 0), free)
    return whole


def _bytes_per_pixel(header: Header) -> int:
    scans = header.jpeg["scans"] if header.jpeg else 1
    each = SCANS_BYTES_PER_PIXEL if scans > 1 else BYTES_PER_PIXEL[header.format]
    if header.mode == "lab":
        each += RGB_BYTES_PER_PIXEL
    if header.mode == "gray" and header.bits > 8:
        return max(each, DEEP_ALPHA_BYTES_PER_PIXEL if header.alpha else DEEP_BYTES_PER_PIXEL)
    if header.alpha:
        return max(each, ALPHA_BYTES_PER_PIXEL[header.mode == "gray"])
    return each


def is_heavy(header: Header, size: int, limits: Limits) -> bool:
    """Return whether to decode a file of ``size`` bytes is better left to a process that can be ended.

    It takes far more than an ordinary web copy does, or the limits say so of any picture. False where the
    limits refuse the picture: that costs nothing.
    """
    if too_costly(header, size, limits) is not None:
        return False
    pixels, frames = header.width * header.height, header.frames or 1
    return (
        size + pixels * _bytes_per_pixel(header) >= limits.aside_bytes
        or (header.jpeg is not None and header.jpeg["scans"] >= HEAVY_SCANS)
        or (frames > 1 and frames * pixels >= HEAVY_FRAME_PIXELS)
    )


def _most_pixels(header: Header, size: int, limits: Limits) -> int:
    return min(limits.pixels, max(0, limits.decode_bytes - size) // _bytes_per_pixel(header))


def too_costly(header: Header, size: int, limits: Limits) -> str | None:
    """Return why the picture of a file of ``size`` bytes is not decoded, None where it may be."""
    pixels = header.width * header.height
    scans = header.jpeg["scans"] if header.jpeg else 1
    most = _most_pixels(header, size, limits)
    if max(header.width, header.height) > limits.side:
        return (
            f"the picture has {header.width} x {header.height} px;"
            f" a side of at most {limits.side:,} is decoded"
        )
    if pixels > most and pixels <= _most_pixels(header, 0, limits):
        return (
            f"the file has {size:,} bytes: too many to decode a picture of"
            f" {header.width} x {header.height} px beside them"
        )
    if pixels > most:
        return (
            f"the picture has {header.width} x {header.height} px, {pixels / 1e6:,.0f} megapixels;"
            f" at most {most / 1e6:.0f} are decoded"
        )
    if scans > 1 and (scans > limits.jpeg_scans or scans * pixels > limits.jpeg_scan_pixels):
        return (
            f"the picture comes in {scans:,} passes of {pixels / 1e6:.1f} megapixels each,"
            " too many to be decoded"
        )
    return None


def decode(data: bytes, header: Header, limits: Limits = DEFAULT_LIMITS) -> Decoded:
    """Decode the first picture of ``data``, whose header was read before.

    Never raises; safe to call from several threads.
    """
    problem = too_costly(header, len(data), limits)
    if problem is not None:
        return Decoded(problem=problem)
    try:
        file = for_decoding(data, header, limits)
        with Image.open(file, formats=[PLUGINS[header.format]]) as opened:
            if opened.size != (header.width, header.height):
                return Decoded(problem="the file states two different sizes for its picture")
            forget_foreign_table(opened)
            opened.load()
            problem = file.problem(opened) if isinstance(file, PictureFeed) else None
            if problem:
                return Decoded(problem=problem)
            if header.covered is not None:
                return Decoded(picture=_clear_around(opened, header.covered))
            return Decoded(picture=_rgb_of_lab(opened) if opened.mode == "LAB" else opened)
    except MemoryError:
        return Decoded(problem="the picture needs more memory than there is")
    except UnidentifiedImageError:
        return Decoded(problem=_UNKNOWN, detail="the decoder does not recognize it")
    except Exception as error:  # decoders raise anything, even warnings as errors
        return Decoded(problem=_DAMAGED, detail=display_name(f"{type(error).__name__}: {error}"))
