"""Pictures embedded beside the picture: where they are, and whether they show something else.

Places: IFD1 of Exif (CIPA DC-008), xmp:Thumbnails (published XMP namespaces), data set 2:202 of IPTC-IIM 4
(ObjectData Preview Data), and what a container carries in its own header, such as the JFIF extension (ITU-T
T.871).
"""

from __future__ import annotations

import base64
import binascii
import io
import re
from typing import IO, TYPE_CHECKING, Final, TypedDict, cast

from PIL import Image

from pytest_webdeliverable.measure.headers import read_header
from pytest_webdeliverable.measure.limits import MIB, Limits
from pytest_webdeliverable.measure.metadata.view import SMALLEST, same_view
from pytest_webdeliverable.measure.pruned import for_decoding

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.headers.base import Header
    from pytest_webdeliverable.measure.metadata.packets import Metadata

_FORMATS: Final = ("JPEG", "PNG", "PPM", "AVIF")
_PIXELS: Final = 4_000_000
"""Largest preview opened; those written into camera pictures reach 1920 x 1440."""
_SCANS: Final = 16
"""JPEG scans of a preview; honest progressive files need at most 15."""
_BYTES: Final = 4 * MIB
"""Largest preview read; a picture of 1920 x 1440 px at the best JPEG quality has some 2.5 MB."""
_LIMITS: Final = Limits(
    bytes_by_format={},
    jpeg_scans=_SCANS,
    jpeg_segments=64,
    png_chunks=1000,
    pixels=_PIXELS,
    metadata_bytes=_BYTES,
)
"""What a preview may cost: a decoder takes a step for each byte of fill and each empty part."""
_PIXMAP: Final = re.compile(rb"P6\s\d{1,5}\s\d{1,5}\s255\s")
"""Plain heading of a pixmap; others may hold comments and numbers without end."""
_COMPARED: Final = 4
"""Previews compared per file; three are the most an ordinary writer leaves."""
_AVERAGED: Final = frozenset({"L", "LA", "RGB", "RGBA", "CMYK", "YCbCr", "LAB", "HSV"})
"""Modes of Pillow that can be reduced by averaging as they are."""
_IPTC_PREVIEW: Final = (2, 202)
_START_OF_SCAN: Final = b"\xff\xda"
_BOXES: Final = b"ftyp"
"""Type of the first box of an AVIF, in whose coded data any bytes may follow each other."""
_ENCODED_STARTS: Final = ("/9j/", "iVBORw0KGgo")
"""First bytes of JPEG and PNG in base64 (RFC 4648)."""
_ENCODED_LEAST: Final = 200
"""Characters; no picture is as short."""
_JPEG_START: Final = b"\xff\xd8"
_LISTED: Final = 16
"""Previews told of per file, so that a packet of a hundred thousand does not fill the report."""


class PreviewFact(TypedDict):
    """One embedded preview compared with the picture.

    ``difference`` runs from 0 (the same) to 1; ``same`` is False where the preview shows something
    else, or more, than the picture. ``problem`` says why a preview could not be compared; then
    width and height are 0, ``difference`` is 1.0 and ``same`` is False.
    """

    place: str
    width: int
    height: int
    difference: float
    same: bool
    problem: str | None


def preview_images(header: Header, metadata: Metadata) -> list[tuple[str, bytes]]:
    """Return the bytes of each embedded preview with its place: "Exif", "XMP", "IPTC" or "file header".

    Each different preview is listed once. The second page of a TIFF file is no preview.
    """
    found: dict[bytes, str] = {}
    thumbnail = metadata.exif.thumbnail if metadata.exif else None
    if thumbnail and (header.format != "tiff" or thumbnail.startswith(_JPEG_START)):
        found[thumbnail] = "Exif"
    for data in metadata.exif.thumbnails if metadata.exif else ():
        if header.format != "tiff" or data.startswith(_JPEG_START):
            found.setdefault(data, "Exif")
    for xmp in metadata.xmp:
        for path, value in xmp.properties:
            named = path[-1] == "xmpGImg:image"
            if (named or _looks_encoded(value)) and (data := _from_base64(value)):
                found.setdefault(data, "XMP")
    for part in (metadata, *metadata.more):
        for data in part.iptc.sets.get(_IPTC_PREVIEW, ()) if part.iptc else ():
            if data.strip(b"\0 "):
                found.setdefault(data, "IPTC")
    for data in header.previews:
        found.setdefault(data, "file header")
    return [(place, data) for data, place in found.items()]


def preview_facts(picture: Image.Image, previews: list[tuple[str, bytes]]) -> list[PreviewFact]:
    """Compare each preview with ``picture``, which is decoded and as stored. Never raises."""
    if not previews:
        return []
    try:
        small = _small_rgb(picture)
    except (OSError, ValueError, MemoryError):
        problem = "the picture cannot be compared with its preview"
        return [_unknown(place, problem) for place, _ in previews]
    facts = [_fact(small, place, data) for place, data in previews[:_COMPARED]]
    problem = "more previews than are looked at"
    return facts + [_unknown(place, problem) for place, _ in previews[_COMPARED:_LISTED]]


def _looks_encoded(text: str) -> bool:
    # A JPEG or PNG under whatever name: some programs keep the original picture in such a field.
    return len(text) > _ENCODED_LEAST and text.startswith(_ENCODED_STARTS)


def _from_base64(text: str) -> bytes:
    try:
        return base64.b64decode(text)
    except (binascii.Error, ValueError):
        return text.encode("utf-8", "replace")  # there, but no picture that opens


def _unknown(place: str, problem: str) -> PreviewFact:
    return PreviewFact(place=place, width=0, height=0, difference=1.0, same=False, problem=problem)


def _fact(picture: Image.Image, place: str, data: bytes) -> PreviewFact:
    if data[4:8] != _BOXES and data.count(_START_OF_SCAN) > _SCANS:
        return _unknown(place, "the preview is stored in more scans than are read")
    try:
        if len(data) > _BYTES:
            return _unknown(place, "the preview is larger than is opened")
        with Image.open(_opened(data), formats=_FORMATS) as preview:
            width, height = preview.size
            if width * height > _PIXELS:
                return _unknown(place, "the preview is larger than is opened")
            preview.draft("RGB", (4 * SMALLEST, 4 * SMALLEST))
            found = same_view(picture, _small_rgb(preview))
    except Exception:  # any bytes reach the decoder, and each way to fail means the same
        return _unknown(place, "the preview cannot be opened")
    return PreviewFact(
        place=place,
        width=width,
        height=height,
        difference=round(found.difference, 3),
        same=found.same,
        problem=None,
    )


def _opened(data: bytes) -> IO[bytes]:
    # The preview as a file without what only costs; raises for what is no picture or breaks a limit.
    if _PIXMAP.match(data):
        return io.BytesIO(data)
    return for_decoding(data, read_header(data, _LIMITS), _LIMITS)


def _small_rgb(picture: Image.Image) -> Image.Image:
    # The picture as RGB on black, reduced so that no side falls below 96 px.
    if picture.mode not in _AVERAGED:
        # Palettes cannot be averaged, and deep samples would be copied in full: thin them out.
        factor = max(1, min(picture.size) // (4 * SMALLEST))
        thin = (picture.width // factor, picture.height // factor)
        picture = picture.resize(thin, Image.Resampling.NEAREST)
        deep = picture.mode.startswith(("I", "F"))
        picture = _spread(picture.convert("F")) if deep else picture.convert("RGBA")
    small = picture.reduce(max(1, min(picture.size) // SMALLEST))
    if small.mode in {"LA", "RGBA"}:
        ground = Image.new("RGBA", small.size, "black")
        small = Image.alpha_composite(ground, small.convert("RGBA"))
    return small.convert("RGB")


def _spread(picture: Image.Image) -> Image.Image:
    # Levels of deep samples over 0 to 255; the comparison does not mind another contrast.
    low, high = cast("tuple[float, float]", picture.getextrema())
    scale = 255.0 / (high - low) if high > low else 0.0
    return picture.point(lambda level: level * scale - low * scale).convert("L")
