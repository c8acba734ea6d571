"""What every format's header reader returns, before a single pixel is decoded."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.headers.jpeg import JpegFacts

Format = Literal["jpeg", "png", "webp", "avif", "gif", "tiff"]
ColorMode = Literal["rgb", "gray", "cmyk", "lab", "other"]
DensityPlace = Literal["JFIF", "Exif", "pHYs", "TIFF"]


class DamagedError(ValueError):
    """The file cannot be read as the format it claims; the text says why, for a designer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Density:
    """Pixels per inch written in one place of a file.

    ``x`` and ``y`` are None where the place is there but states no density
    (aspect ratio only, unit "none", 0/0, not finite).
    """

    place: DensityPlace
    x: float | None
    y: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ColorSignals:
    """Color statements of the container outside an ICC profile.

    ``cicp`` is (primaries, transfer, matrix, full range) of ITU-T H.273, from a PNG cICP chunk or an
    AVIF nclx property; ``gamma`` is the gAMA value (0.45455 for 1/2.2); ``chromaticities`` are
    white, red, green, blue as x, y pairs of cHRM; ``srgb_intent`` is the byte of a PNG sRGB chunk.
    """

    cicp: tuple[int, int, int, int] | None = None
    gamma: float | None = None
    chromaticities: tuple[float, ...] | None = None
    srgb_intent: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """One image file, read up to (not into) its pixels.

    ``width`` and ``height`` are as stored, before any orientation flag. ``orientation`` is how the
    container itself has the picture turned (AVIF irot and imir), as an Exif orientation value; it
    rules there, whatever Exif says, and is None in the other formats. ``bits`` are bits per sample
    (8 for a palette, whose entries are 8-bit colors). ``frames`` is None where only decoding could
    tell. ``covered`` is the part (left, top, right, bottom) that a first frame covers where it is not the
    whole; browsers leave the rest see-through. ``exif`` starts at the TIFF byte-order mark; ``iptc`` is the raw IIM data-set stream;
    ``icc_problem`` says why a profile that is announced could not be put together.
    ``loose`` are further blocks of metadata, which programs differ in reading; ``coded`` is where in the
    file the largest scan of a JPEG begins and ends, in which none can be.
    ``problems`` are sentences, empty for an intact file: truncation, wrong checksums, missing end
    marker, data behind the end.
    """

    format: Format
    width: int
    height: int
    mode: ColorMode
    bits: int
    alpha: bool = False
    indexed: bool = False
    frames: int | None = 1
    covered: tuple[int, int, int, int] | None = None
    orientation: int | None = None
    densities: tuple[Density, ...] = ()
    icc: bytes | None = None
    icc_problem: str | None = None
    exif: bytes | None = None
    xmp: tuple[bytes, ...] = ()
    iptc: bytes | None = None
    signals: ColorSignals = ColorSignals()
    jpeg: JpegFacts | None = None
    previews: tuple[bytes, ...] = ()
    loose: tuple[bytes, ...] = ()
    coded: tuple[int, int] | None = None
    problems: tuple[str, ...] = ()
