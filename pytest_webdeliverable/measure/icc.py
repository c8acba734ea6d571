"""What an ICC profile says in numbers, and whether those numbers are sRGB.

A profile's name lies both ways, so it is reported and never judged by. Layout from ICC.1:2022; the
two tolerances lie in the wide gap between all true sRGB profiles found in free packages and sample
photographs (at most 0.48 code values and 0.00022) and the nearest other ones (8.5 and 0.019).
"""

from __future__ import annotations

import hashlib
from functools import cache
from typing import Final, TypedDict

from pytest_webdeliverable.measure.ciede2000 import Lab, ciede2000, lab_of_ratios
from pytest_webdeliverable.measure.icc_curves import Curve, codes_of, deviation_from_srgb
from pytest_webdeliverable.measure.icc_profile import (
    D50,
    MATRIX_CLASSES,
    Kind,
    Profile,
    coded_otherwise,
    parse,
)
from pytest_webdeliverable.measure.icc_tags import XYZ, DamagedProfileError
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits
from pytest_webdeliverable.measure.srgb import CODES, COLORANTS_D50, LINEAR

__all__ = [
    "DamagedProfileError",
    "Profile",
    "ProfileFacts",
    "parse",
    "profile_facts",
    "same_profile",
]

CURVE_TOLERANCE: Final = 1.0
"""Most a tone curve may be off sRGB's, in 8-bit code values."""
COLORANT_TOLERANCE: Final = 0.005
"""Most an X, Y or Z of a primary may be off sRGB's, relative to D50."""
GRID_CODES: Final = (0, 32, 64, 96, 128, 159, 191, 223, 255)
"""Codes of each channel at which colors are compared: 9 x 9 x 9 colors."""
SAMPLED_CODES: Final = (*range(0, CODES, 8), CODES - 1)
"""Codes at which the facts keep the curve, to tell whether two profiles show the same."""
KEPT_FACTS: Final = 256
"""Profiles whose facts are kept; a portfolio repeats the same few in every picture."""
CHANNELS: Final = ("r", "g", "b")
HEADER_FREE_OF_COLOR: Final = ((0, 8), (24, 36), (40, 56), (64, 68), (80, 100))
"""Header bytes without effect on colors: length and CMM; date; platform, flags, maker and model;
intent; creator and profile ID."""


class ProfileFacts(TypedDict):
    """One profile as numbers, JSON-able.

    ``content_sha256`` leaves out header fields that change no color. ``colorants`` are X, Y, Z by
    ``r g b``, relative to D50. ``curve_deviation`` is in 8-bit code values, the most over all 256
    codes and all channels; ``colorant_deviation`` is the most over the nine X, Y, Z. ``gamut`` and
    ``curve`` say whether these are sRGB's, None where the profile has no such numbers. ``delta_e``
    is the most a color shifts if it is taken for sRGB (CIEDE2000, 9 x 9 x 9 colors). ``samples``
    are the sRGB codes that show the same light as codes 0, 8 .. 248, 255: one list where all
    channels are alike, otherwise one for each. ``problems`` are damages, ``oddities`` departures from
    ICC.1 that readers put up with.
    """

    sha256: str
    content_sha256: str
    size: int
    description: str
    version: str
    device_class: str
    space: str
    pcs: str
    kind: Kind
    colorants: dict[str, list[float]] | None
    curve_deviation: float | None
    colorant_deviation: float | None
    delta_e: float | None
    gamut: bool | None
    curve: bool | None
    srgb: bool
    samples: list[list[float]]
    problems: list[str]
    oddities: list[str]


_kept: dict[str, ProfileFacts] = {}


def profile_facts(data: bytes, limits: Limits = DEFAULT_LIMITS) -> ProfileFacts:
    """Return the facts of a profile; raise DamagedProfileError as ``parse`` does.

    Worked out once for equal bytes: the pictures of a portfolio tend to carry the same profile.
    """
    if len(data) > limits.profile_bytes:
        parse(data, limits)
    digest = hashlib.sha256(data).hexdigest()
    facts = _kept.get(digest)
    if facts is None:
        facts = _facts(parse(data, limits), digest)
        if len(_kept) >= KEPT_FACTS:
            _kept.clear()
        _kept[digest] = facts
    return facts.copy()


def _facts(profile: Profile, digest: str) -> ProfileFacts:
    tags, colorants = profile.tags, profile.colorants
    # Channels mostly share one curve; what is worked out of it is worked out once.
    curves = profile.curves if len(set(profile.curves)) > 1 else profile.curves[:1]
    curve_deviation = max(map(deviation_from_srgb, curves), default=None)
    colorant_deviation = None if colorants is None else _colorant_deviation(colorants)
    gamut = None if colorant_deviation is None else colorant_deviation <= COLORANT_TOLERANCE
    curve = None if curve_deviation is None else curve_deviation <= CURVE_TOLERANCE
    sound_matrix = (
        tags.device_class in MATRIX_CLASSES and tags.pcs == "XYZ " and not coded_otherwise(tags)
    )
    shown = [codes_of(channel) for channel in curves]
    return {
        "sha256": digest,
        "content_sha256": _content_sha256(tags.data),
        "size": len(tags.data),
        "description": profile.description,
        "version": ".".join(str(part) for part in tags.version),
        "device_class": tags.device_class.strip(),
        "space": tags.space.strip(),
        "pcs": tags.pcs.strip(),
        "kind": profile.kind,
        "colorants": None if colorants is None else _by_channel(colorants),
        "curve_deviation": None if curve_deviation is None else round(curve_deviation, 3),
        "colorant_deviation": None if colorant_deviation is None else round(colorant_deviation, 5),
        "delta_e": None if colorants is None else round(_delta_e(colorants, profile.curves), 3),
        "gamut": gamut,
        "curve": curve,
        "srgb": (profile.kind == "matrix" and gamut is True and curve is True and sound_matrix)
        or (profile.kind == "gray" and curve is True),
        "samples": [[round(codes[code], 2) for code in SAMPLED_CODES] for codes in shown],
        "problems": list(profile.problems),
        "oddities": list(profile.oddities),
    }


def _by_channel(colorants: tuple[XYZ, XYZ, XYZ]) -> dict[str, list[float]]:
    return {
        name: [round(part, 5) for part in colorant]
        for name, colorant in zip(CHANNELS, colorants, strict=True)
    }


def _content_sha256(data: bytes) -> str:
    plain = bytearray(data)
    for start, stop in HEADER_FREE_OF_COLOR:
        plain[start:stop] = bytes(stop - start)
    return hashlib.sha256(plain).hexdigest()


def _colorant_deviation(colorants: tuple[XYZ, XYZ, XYZ]) -> float:
    return max(
        abs(have - want)
        for colorant, srgb in zip(colorants, COLORANTS_D50, strict=True)
        for have, want in zip(colorant, srgb, strict=True)
    )


def _grid(colorants: tuple[XYZ, XYZ, XYZ], curves: tuple[Curve, ...]) -> list[Lab]:
    """L*, a*, b* (D50) of the 9 x 9 x 9 colors."""
    terms = [
        [
            tuple(part * curve[code] / white for part, white in zip(colorant, D50, strict=True))
            for code in GRID_CODES
        ]
        for colorant, curve in zip(colorants, curves, strict=True)
    ]
    reds, greens, blues = terms
    return [
        lab_of_ratios(r[0] + g[0] + b[0], r[1] + g[1] + b[1], r[2] + g[2] + b[2])
        for r in reds
        for g in greens
        for b in blues
    ]


@cache
def _srgb_grid() -> list[Lab]:
    return _grid(COLORANTS_D50, (LINEAR,) * len(CHANNELS))


def _delta_e(colorants: tuple[XYZ, XYZ, XYZ], curves: tuple[Curve, ...]) -> float:
    return max(map(ciede2000, _grid(colorants, curves), _srgb_grid()))


def same_profile(first: ProfileFacts, second: ProfileFacts) -> bool:
    """Tell whether two profiles show the same colors: equal content, or equal numbers.

    Numbers are equal within the tolerances used for sRGB. Tables are compared by their bytes only.
    """
    if first["content_sha256"] == second["content_sha256"]:
        return True
    if first["kind"] != second["kind"] or first["kind"] not in {"matrix", "gray"}:
        return False
    return _same_colorants(first["colorants"], second["colorants"]) and _same_curves(first, second)


def _same_colorants(
    first: dict[str, list[float]] | None, second: dict[str, list[float]] | None
) -> bool:
    if first is None or second is None:
        return first is second
    return all(
        abs(one - other) <= COLORANT_TOLERANCE
        for name in CHANNELS
        for one, other in zip(first[name], second[name], strict=True)
    )


def _same_curves(first: ProfileFacts, second: ProfileFacts) -> bool:
    # The samples may miss a few damaged codes; the deviation was taken over all of them.
    deviations = [facts["curve_deviation"] or 0.0 for facts in (first, second)]
    if abs(deviations[0] - deviations[1]) > CURVE_TOLERANCE:
        return False
    channels = max(len(first["samples"]), len(second["samples"]))
    pairs = zip(_channels(first, channels), _channels(second, channels), strict=True)
    return all(
        abs(one - other) <= CURVE_TOLERANCE
        for codes, others in pairs
        for one, other in zip(codes, others, strict=True)
    )


def _channels(facts: ProfileFacts, count: int) -> list[list[float]]:
    return facts["samples"] * count if len(facts["samples"]) == 1 else facts["samples"]
