"""Small pictures for the proof sheet: read again, decoded, turned upright, and encoded anew.

Nothing of the file but its pixels comes along. Animations give their first frame only.
"""

from __future__ import annotations

import base64
import io
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any, Final

from PIL import Image, ImageCms

from pytest_webdeliverable.measure.decode import apply_orientation, decode, is_heavy
from pytest_webdeliverable.measure.door import RefusedError, read_file
from pytest_webdeliverable.measure.edges.strips import normal
from pytest_webdeliverable.measure.headers import read_header
from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, HeavyError, Limits

if TYPE_CHECKING:
    from pathlib import Path

    from pytest_webdeliverable.measure.edges import Side
    from pytest_webdeliverable.measure.headers.base import Header

THUMB_QUALITY: Final = 72
LARGE_QUALITY: Final = 80
"""JPEG quality of the two sizes of picture; chosen by eye at their size."""
PALETTE: Final = 256
"""Colors of a see-through picture, which is kept as PNG."""
REDUCING_GAP: Final = 2.0
"""Pillow's trade of speed for quality when scaling down; 2 is close to fair resampling."""
_AVERAGED: Final = frozenset({"L", "RGB", "RGBA", "CMYK", "YCbCr"})
"""Modes that can be scaled before they are converted."""
_PROFILED: Final = frozenset({"L", "RGB", "CMYK"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """A part of one edge: ``start`` to ``end`` px along the side, ``depth`` px into the picture."""

    side: Side
    start: int
    end: int
    depth: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What to make of one picture; ``thumb`` and ``large`` are long sides in px, 0 for none."""

    thumb: int
    large: int = 0
    cuts: tuple[Cut, ...] = ()
    convert: bool = False
    """Whether the embedded profile is sound and not sRGB, so that colors are converted."""
    orientation: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Encoded:
    """An encoded picture: ``kind`` is "jpeg" or "png", ``base64`` its bytes as text (RFC 4648)."""

    kind: str
    width: int
    height: int
    base64: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """All pictures of one piece; ``strips`` are in the picture's own direction, pixel for pixel."""

    thumb: Encoded
    large: Encoded | None = None
    strips: tuple[tuple[Cut, Encoded], ...] = field(default=())

    def to_json(self) -> dict[str, Any]:
        """Return it as plain JSON types."""
        return asdict(self)

    @classmethod
    def of_json(cls, sent: dict[str, Any]) -> Proof:
        """Return what ``to_json`` gave."""
        return cls(
            thumb=Encoded(**sent["thumb"]),
            large=Encoded(**sent["large"]) if sent["large"] else None,
            strips=tuple((Cut(**cut), Encoded(**one)) for cut, one in sent["strips"]),
        )


def wish_of_json(sent: dict[str, Any]) -> Wish:
    """Return the wish that was sent as ``dataclasses.asdict`` gives it."""
    return Wish(**{**sent, "cuts": tuple(Cut(**cut) for cut in sent["cuts"])})


def proof(
    root: Path,
    base: Path,
    relative: str,
    wish: Wish,
    *,
    sha256: str,
    limits: Limits = DEFAULT_LIMITS,
    light_only: bool = False,
) -> Proof | None:
    """Make the pictures of one file; None where it cannot be shown.

    A file that is no longer the one that was measured (``sha256``) is not shown either. Never raises, but
    with ``light_only`` HeavyError for a picture that is dear to decode.
    """
    try:
        source = read_file(root, relative, base=base, limits=limits, light_only=light_only)
        header = read_header(source.data, limits)
    except (RefusedError, DamagedError):
        return None
    if source.sha256 != sha256 or header.problems:
        return None
    if light_only and is_heavy(header, source.bytes, limits):
        raise HeavyError
    try:
        return _made(source.data, header, wish, limits)
    except Exception:  # decoders and encoders raise anything; the sheet shows a blank then
        return None


def _made(data: bytes, header: Header, wish: Wish, limits: Limits) -> Proof | None:
    decoded = decode(data, header, limits).picture
    if decoded is None:
        return None
    upright = apply_orientation(decoded, wish.orientation)
    icc = header.icc if wish.convert else None
    return Proof(
        thumb=_small(upright, wish.thumb, THUMB_QUALITY, icc),
        large=_small(upright, wish.large, LARGE_QUALITY, icc) if wish.large else None,
        strips=tuple((cut, _strip(upright, cut, icc)) for cut in wish.cuts),
    )


def _small(picture: Image.Image, longest: int, quality: int, icc: bytes | None) -> Encoded:
    ready = picture if _can_scale(picture) else normal(picture)
    scale = min(1.0, longest / max(ready.size))
    size = (max(1, round(ready.width * scale)), max(1, round(ready.height * scale)))
    small = ready.resize(size, Image.Resampling.LANCZOS, reducing_gap=REDUCING_GAP)
    return _encoded(_screen(small, icc), quality)


def _can_scale(picture: Image.Image) -> bool:
    return picture.mode in _AVERAGED and "transparency" not in picture.info


def _strip(picture: Image.Image, cut: Cut, icc: bytes | None) -> Encoded:
    width, height = picture.size
    box = {
        "left": (0, cut.start, cut.depth, cut.end),
        "right": (width - cut.depth, cut.start, width, cut.end),
        "top": (cut.start, 0, cut.end, cut.depth),
        "bottom": (cut.start, height - cut.depth, cut.end, height),
    }[cut.side]
    return _png(_screen(picture.crop(box), icc))


def _screen(part: Image.Image, icc: bytes | None) -> Image.Image:
    """Return a small picture as RGB or RGBA in sRGB."""
    if icc is not None and part.mode in _PROFILED:
        try:
            profile = ImageCms.ImageCmsProfile(io.BytesIO(icc))
            target = ImageCms.createProfile("sRGB")
            converted = ImageCms.profileToProfile(part, profile, target, outputMode="RGB")
        except (ImageCms.PyCMSError, OSError, ValueError):
            converted = None
        if converted is not None:
            return converted
    return normal(part)


def _encoded(picture: Image.Image, quality: int) -> Encoded:
    if picture.mode == "RGBA":
        return _png(picture.quantize(PALETTE, Image.Quantize.FASTOCTREE))
    picture.info.clear()
    buffer = io.BytesIO()
    picture.save(buffer, "JPEG", quality=quality, optimize=True)
    return _of_bytes("jpeg", picture, buffer)


def _png(picture: Image.Image) -> Encoded:
    # Encoders write profiles, comments and the like from here.
    transparency = picture.info.get("transparency") if picture.mode == "P" else None
    picture.info.clear()
    if transparency is not None:
        picture.info["transparency"] = transparency
    buffer = io.BytesIO()
    picture.save(buffer, "PNG", optimize=picture.mode == "P")
    return _of_bytes("png", picture, buffer)


def _of_bytes(kind: str, picture: Image.Image, buffer: io.BytesIO) -> Encoded:
    text = base64.b64encode(buffer.getbuffer()).decode("ascii")
    return Encoded(kind=kind, width=picture.width, height=picture.height, base64=text)
