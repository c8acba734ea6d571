"""One ICC profile as stored: what kind it is, its primaries and tone curves.

Layout and classes from ICC.1:2022.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

from pytest_webdeliverable.measure.icc_curves import Curve, codes_of, read_curve
from pytest_webdeliverable.measure.icc_tags import (
    ELEMENT_HEAD,
    XYZ,
    DamagedProfileError,
    Tags,
    description,
    read_tags,
    read_xyz,
)
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits

Kind = Literal["matrix", "gray", "table", "named", "link", "abstract"]

D50: Final = (0.9642, 1.0, 0.8249)
"""White of the profile connection space, ICC.1:2022, 7.2.16."""
WHITE_TOLERANCE: Final = 0.01
"""Most the primaries together may be off D50 before grays get a cast; no source, D65: 0.26."""
TABLES: Final = ("A2B0", "A2B1", "A2B2", "D2B0", "D2B1", "D2B2", "D2B3")
"""Tags that hold color tables and go before primaries and curves (ICC.1:2022, 8.10)."""
TABLE_TYPES: Final = ("mft1", "mft2", "mAB ", "mpet")
CLASS_KINDS: Final[dict[str, Kind]] = {"nmcl": "named", "link": "link", "abst": "abstract"}
"""Classes that describe no picture's colors and may not be embedded (ICC.1:2022, annex B)."""
MATRIX_CLASSES: Final = ("mntr", "scnr", "spac")
"""Classes for which primaries and curves are enough (ICC.1:2022, 8.3 to 8.6)."""
PICTURE_CLASSES: Final = (*MATRIX_CLASSES, "prtr")
NEWEST_VERSION: Final = 4
"""Major version that programs read; LittleCMS refuses 5, a successor of its own."""
OLDEST_VERSION: Final = 2
"""Major version that the standard begins with."""
CODED_SRGB: Final = ({1, 2}, {13, 2})
"""Numbers of sRGB's primaries and tone curve, and those that leave them open (ITU-T H.273)."""
STEP_BACK: Final = 1.0
"""Most a tone curve may run backwards, in sRGB code values; no source, measured curves are noisy."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """One profile: XYZ of red, green, blue relative to D50; light of each code by channel.

    ``problems`` are damages; ``oddities`` are departures from ICC.1 that readers put up with.
    """

    tags: Tags
    kind: Kind
    description: str
    colorants: tuple[XYZ, XYZ, XYZ] | None
    curves: tuple[Curve, ...]
    problems: tuple[str, ...]
    oddities: tuple[str, ...]


def parse(data: bytes, limits: Limits = DEFAULT_LIMITS) -> Profile:
    """Read a profile; raise DamagedProfileError with a sentence if nothing could use it."""
    if len(data) > limits.profile_bytes:
        raise DamagedProfileError(
            f"the color profile has {len(data)} bytes; at most {limits.profile_bytes} are read"
        )
    tags = read_tags(data)
    if tags.version[0] > NEWEST_VERSION:
        raise DamagedProfileError(
            f"the color profile is of version {tags.version[0]}, which programs do not read"
        )
    problems: list[str] = []
    kind: Kind
    colorants: tuple[XYZ, XYZ, XYZ] | None = None
    curves: tuple[Curve, ...] = ()
    tables = [name for name in TABLES if name in tags]
    if tags.device_class in CLASS_KINDS:
        kind = CLASS_KINDS[tags.device_class]
    elif tables:
        kind = "table"
        for name in tables:
            tags.element(name, *TABLE_TYPES)
        if tags.space == "RGB " and "rXYZ" in tags:
            try:
                colorants, curves = _matrix(tags)
            except DamagedProfileError as damage:
                problems.append(str(damage))
    elif tags.space == "GRAY":
        kind, curves = "gray", (_gray(tags),)
    elif tags.space == "RGB ":
        kind = "matrix"
        colorants, curves = _matrix(tags)
    else:
        raise DamagedProfileError("the color profile lacks its color tables")
    if any(map(_runs_backwards, curves)):
        problems.append("the color profile is damaged: a tone curve runs backwards in places")
    return Profile(
        tags=tags,
        kind=kind,
        description=description(tags),
        colorants=colorants,
        curves=curves,
        problems=tuple(problems),
        oddities=(*tags.oddities, *_oddities(tags, kind, colorants)),
    )


def _matrix(tags: Tags) -> tuple[tuple[XYZ, XYZ, XYZ], tuple[Curve, ...]]:
    red, green, blue = (read_xyz(tags.element(f"{name}XYZ", "XYZ ")) for name in "rgb")
    elements = [tags.element(f"{name}TRC", "curv", "para") for name in "rgb"]
    read = {element: read_curve(element) for element in dict.fromkeys(elements)}
    return (red, green, blue), tuple(read[element] for element in elements)


def _gray(tags: Tags) -> Curve:
    curve = read_curve(tags.element("kTRC", "curv", "para"))
    if tags.pcs != "Lab ":
        return curve
    # With a Lab connection space the curve gives L*/100, not light (ICC.1:2022, 8.3.4).
    return tuple(_light_of_lightness(100 * value) for value in curve)


def _light_of_lightness(lightness: float) -> float:
    """Y (0..1) of a CIE L* (0..100), CIE 15:2004."""
    return float(((lightness + 16) / 116) ** 3) if lightness > 8 else lightness * (3 / 29) ** 3


def coded_otherwise(tags: Tags) -> bool:
    """Return whether a profile's cicp entry names other colors than sRGB.

    Programs that know it go by it instead of primaries and curves. ICC.1:2022, 9.2.17 and 10.3: type and 4
    reserved bytes, then one each for primaries, tone curve, matrix and range.
    """
    try:
        stated = tags.element("cicp", "cicp")[ELEMENT_HEAD : ELEMENT_HEAD + 2]
    except DamagedProfileError:
        return False
    return any(number not in known for number, known in zip(stated, CODED_SRGB, strict=False))


def _oddities(tags: Tags, kind: Kind, colorants: tuple[XYZ, XYZ, XYZ] | None) -> list[str]:
    """Parts that do not go together, and departures from ICC.1:2022."""
    oddities = []
    if tags.version[0] < OLDEST_VERSION:
        oddities.append(f"the color profile has the unknown version {tags.version[0]}")
    if kind in CLASS_KINDS.values():
        oddities.append("the color profile is of a class that is not meant for pictures")
    elif tags.device_class not in PICTURE_CLASSES:
        oddities.append(f"the color profile is of the unknown class {tags.device_class!r}")
    elif kind == "matrix" and tags.device_class not in MATRIX_CLASSES:
        oddities.append("the color profile lacks the color tables that its class needs")
    if kind == "matrix" and coded_otherwise(tags):
        oddities.append("the color profile's cicp entry names other colors than sRGB")
    if kind == "matrix" and tags.pcs != "XYZ ":
        oddities.append("the color profile's primaries do not go with its connection space")
    if colorants is not None:
        total = [sum(part) for part in zip(*colorants, strict=True)]
        if max(abs(have - want) for have, want in zip(total, D50, strict=True)) > WHITE_TOLERANCE:
            oddities.append(
                "the color profile's primaries do not add up to its white, so grays get a cast"
            )
    return oddities


def _runs_backwards(curve: Curve) -> bool:
    return any(after < before - STEP_BACK for before, after in pairwise(codes_of(curve)))
