"""One ICC profile as stored: what kind it is, its primaries and tone curves.

Layout and classes from ICC.1:2022.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

from pytest_webdeliverable.measure.icc_curves import Curve, read_curve
from pytest_webdeliverable.measure.icc_tags import (
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
"""Tags that hold colour tables and go before primaries and curves (ICC.1:2022, 8.10)."""
TABLE_TYPES: Final = ("mft1", "mft2", "mAB ", "mpet")
CLASS_KINDS: Final[dict[str, Kind]] = {"nmcl": "named", "link": "link", "abst": "abstract"}
"""Classes that describe no picture's colours and may not be embedded (ICC.1:2022, annex B)."""
MATRIX_CLASSES: Final = ("mntr", "scnr", "spac")
"""Classes for which primaries and curves are enough (ICC.1:2022, 8.3 to 8.6)."""
PICTURE_CLASSES: Final = (*MATRIX_CLASSES, "prtr")
VERSIONS: Final = (2, 3, 4)
"""Major versions that common programs read; 5 is a successor of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """One profile: XYZ of red, green, blue relative to D50; light of each code by channel."""

    tags: Tags
    kind: Kind
    description: str
    colorants: tuple[XYZ, XYZ, XYZ] | None
    curves: tuple[Curve, ...]
    problems: tuple[str, ...]


def parse(data: bytes, limits: Limits = DEFAULT_LIMITS) -> Profile:
    """Read a profile; raise DamagedProfileError with a sentence if nothing could use it."""
    if len(data) > limits.profile_bytes:
        raise DamagedProfileError(
            f"the colour profile has {len(data)} bytes; at most {limits.profile_bytes} are read"
        )
    tags = read_tags(data)
    problems = list(tags.problems)
    kind: Kind
    colorants: tuple[XYZ, XYZ, XYZ] | None = None
    curves: tuple[Curve, ...] = ()
    tables = [name for name in TABLES if name in tags]
    if tags.device_class in CLASS_KINDS:
        kind = CLASS_KINDS[tags.device_class]
        problems.append("the colour profile is of a class that is not meant for pictures")
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
        raise DamagedProfileError("the colour profile lacks its colour tables")
    problems += _oddities(tags, kind)
    problems += _bad_numbers(colorants, curves)
    return Profile(
        tags=tags,
        kind=kind,
        description=description(tags),
        colorants=colorants,
        curves=curves,
        problems=tuple(problems),
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


def _oddities(tags: Tags, kind: Kind) -> list[str]:
    """Header fields that do not go with the rest of the profile."""
    problems = []
    if tags.version[0] not in VERSIONS:
        problems.append(f"the colour profile's version {tags.version[0]} is not widely understood")
    if tags.device_class not in PICTURE_CLASSES and tags.device_class not in CLASS_KINDS:
        problems.append(f"the colour profile is of the unknown class {tags.device_class!r}")
    elif kind == "matrix" and tags.device_class not in MATRIX_CLASSES:
        problems.append("the colour profile lacks the colour tables that its class needs")
    if kind == "matrix" and tags.pcs != "XYZ ":
        problems.append("the colour profile's primaries do not go with its connection space")
    return problems


def _bad_numbers(colorants: tuple[XYZ, XYZ, XYZ] | None, curves: tuple[Curve, ...]) -> list[str]:
    problems = []
    if colorants is not None:
        total = [sum(part) for part in zip(*colorants, strict=True)]
        if max(abs(have - want) for have, want in zip(total, D50, strict=True)) > WHITE_TOLERANCE:
            problems.append(
                "the colour profile's primaries do not add up to its white, so grays get a cast"
            )
    if any(after < before for curve in curves for before, after in pairwise(curve)):
        problems.append("a tone curve of the colour profile runs backwards in places")
    return problems
