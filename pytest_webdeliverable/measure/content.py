"""Measure the bytes of one image: decode them at most once and gather the facets asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.color import color_facts
from pytest_webdeliverable.measure.facts import FileProblem, HeaderFacts, Measurements, PixelFacts
from pytest_webdeliverable.measure.headers import read_header
from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, HeavyError, Limits
from pytest_webdeliverable.measure.metadata import (
    all_densities,
    metadata_facts,
    preview_facts,
    preview_images,
    read_metadata,
)
from pytest_webdeliverable.measure.rows import strips

if TYPE_CHECKING:
    from collections.abc import Collection

    from PIL.Image import Image

    from pytest_webdeliverable.measure.facts import DensityFacts, Facet
    from pytest_webdeliverable.measure.headers.base import Header
    from pytest_webdeliverable.measure.metadata import Metadata

_EXIF_COLOR_SPACE: Final = 0xA001
_UNPREMULTIPLIED: Final = {"La": "LA", "RGBa": "RGBA"}
_SHOWN_IN_RGB: Final = frozenset({"1", "L", "LA", "P", "PA", "RGB", "RGBA"})
"""Modes that say the same colors in different numbers: a palette's are only places in a table."""


def content_facts(
    data: bytes,
    facets: Collection[Facet] = (),
    limits: Limits = DEFAULT_LIMITS,
    *,
    light_only: bool = False,
) -> Measurements:
    """Return all that the bytes of an image tell, up to the facets asked for; the same for the same bytes.

    Never raises for anything in them: what cannot be read as a picture becomes ``problem``. With
    ``light_only`` raises HeavyError, before anything is decoded, for a picture that is dear to decode.
    """
    measured: Measurements = {}
    try:
        header = read_header(data, limits)
    except DamagedError as damage:
        return _unreadable(measured, str(damage))
    metadata = read_metadata(header, limits, data)
    measured["header"] = _header_facts(header, metadata)
    measured["metadata"] = metadata_facts(header, limits, metadata)
    space = metadata.exif.exif.get(_EXIF_COLOR_SPACE) if metadata.exif else None
    measured["color"] = color_facts(header, limits, space if isinstance(space, int) else None)
    if header.problems:
        return _unreadable(measured, header.problems[0])
    if facets:
        from pytest_webdeliverable.measure.decode import decode, is_heavy

        if light_only and is_heavy(header, len(data), limits):
            raise HeavyError
        decoded = decode(data, header, limits)
        if decoded.picture is None:
            return _unreadable(measured, decoded.problem or "the picture cannot be decoded")
        _measure_pixels(
            measured,
            decoded.picture,
            data=data,
            header=header,
            metadata=metadata,
            facets=facets,
            limits=limits,
        )
    return measured


def _unreadable(measured: Measurements, text: str) -> Measurements:
    measured["problem"] = FileProblem(kind="unreadable", text=text)
    return measured


def _header_facts(header: Header, metadata: Metadata) -> HeaderFacts:
    # An AVIF is turned by its own properties, and by these alone (ISO/IEC 23008-12, irot and imir).
    exif = metadata.exif.orientation if metadata.exif else None
    flag = header.orientation if header.format == "avif" else exif
    turned = flag is not None and flag >= 5  # 5 to 8 swap the axes (CIPA DC-008, tag 0x0112)
    size = [header.width, header.height]
    densities: list[DensityFacts] = [
        {"place": item.place, "x": item.x, "y": item.y}
        for item in all_densities(header, metadata.exif)
    ]
    return {
        "format": header.format,
        "width": size[1] if turned else size[0],
        "height": size[0] if turned else size[1],
        "stored": size,
        "orientation": flag,
        "mode": header.mode,
        "bits": header.bits,
        "alpha": header.alpha,
        "indexed": header.indexed,
        "frames": header.frames,
        "densities": densities,
        "jpeg": header.jpeg,
    }


def _measure_pixels(
    measured: Measurements,
    picture: Image,
    *,
    data: bytes,
    header: Header,
    metadata: Metadata,
    facets: Collection[Facet],
    limits: Limits,
) -> None:
    from pytest_webdeliverable.measure.decode import apply_orientation

    picture = _convertible(picture)
    shown = apply_orientation(picture, measured["header"]["orientation"])
    measured["pixels"] = _pixel_facts(shown)
    if "edges" in facets:
        from pytest_webdeliverable.measure.edges import edge_facts

        measured["edges"] = edge_facts(shown)
    if "history" in facets:
        from pytest_webdeliverable.measure.history import history_facts

        quality = header.jpeg["quality"] if header.jpeg else None
        measured["history"] = history_facts(
            picture,
            format=header.format,
            quality=quality["value"] if quality else None,
        )
    if "previews" in facets:
        previews = preview_images(header, metadata)
        measured["metadata"]["previews"] = preview_facts(picture, previews)
    if "likeness" in facets:
        from pytest_webdeliverable.measure.likeness import signature

        measured["likeness"] = signature(shown)
    if "motion" in facets:
        from pytest_webdeliverable.measure.motion import motion_facts

        measured["motion"] = motion_facts(data, header, limits)


def _convertible(picture: Image) -> Image:
    """Give a picture a mode that Pillow turns into gray or RGB, without an error or a warning.

    It has no way from premultiplied gray, warns of a palette whose entries are partly see-through, and
    cuts gray of 16 bits off at 255 before it looks for the see-through one.
    """
    if picture.mode == "P" and "transparency" in picture.info:
        return picture.convert("RGBA")
    if picture.mode == "I;16" and "transparency" in picture.info:
        return _gray_with_alpha(picture, picture.info["transparency"])
    plain = _UNPREMULTIPLIED.get(picture.mode)
    return picture.convert(plain) if plain else picture


def _gray_with_alpha(picture: Image, clear: int) -> Image:
    """Return gray of 16 bits as one of 8 with alpha: see-through exactly where both bytes are ``clear``'s."""
    from PIL import Image as Pictures
    from PIL import ImageChops

    whole, top = Pictures.new("LA", picture.size), 0
    for strip in strips(picture):
        low, high = Pictures.frombytes("LA", strip.size, strip.tobytes()).split()
        same = [
            part.point([255 * (level == byte) for level in range(256)])
            for part, byte in zip((low, high), clear.to_bytes(2, "little"), strict=True)
        ]
        alpha = ImageChops.invert(ImageChops.darker(*same))
        whole.paste(Pictures.merge("LA", (high, alpha)), (0, top))
        top += strip.height
    return whole


def _pixel_facts(picture: Image) -> PixelFacts:
    see_through = 0.0
    if picture.mode in {"RGBA", "LA", "PA"} or "transparency" in picture.info:
        alpha = (picture if picture.mode in {"RGBA", "LA"} else picture.convert("RGBA")).getchannel(
            "A"
        )
        see_through = 1 - alpha.histogram()[255] / (picture.width * picture.height)
    mode = picture.mode
    if mode in _SHOWN_IN_RGB:
        mode = "RGBA" if see_through else "RGB"
    digest = f"{picture.width}x{picture.height}-{mode}-{_checksum(picture, mode):08x}"
    return {"see_through": see_through, "digest": digest}


def _checksum(picture: Image, mode: str) -> int:
    """CRC-32 of the colors row by row, a strip at a time: a copy of the whole costs most of the time."""
    from zlib import crc32

    found = 0
    for strip in strips(picture):
        shown = strip if strip.mode == mode else strip.convert(mode)
        found = crc32(shown.tobytes(), found)
    return found
