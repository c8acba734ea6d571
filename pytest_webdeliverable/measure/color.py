"""Which of a file's color statements counts, and whether it says sRGB.

Order of precedence: PNG Third Edition, 4.3 (cICP, iCCP, sRGB, gAMA with cHRM); AVIF by HEIF and
MIAF (an ICC profile decides the colors, nclx then only how they are stored); every other format
has an ICC profile or nothing. The Exif tag ColorSpace (CIPA DC-008, tag 40961) comes last.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal, TypedDict

from pytest_webdeliverable.measure.icc import (
    COLORANT_TOLERANCE,
    CURVE_TOLERANCE,
    DamagedProfileError,
    profile_facts,
)
from pytest_webdeliverable.measure.icc_curves import deviation_from_srgb, power_curve
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits
from pytest_webdeliverable.measure.srgb import PRIMARIES_XY, WHITE_XY

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.headers.base import ColorMode, Header
    from pytest_webdeliverable.measure.icc import ProfileFacts

Source = Literal["icc", "cICP", "sRGB chunk", "gAMA/cHRM", "nclx", "Exif", "none"]

UNSPECIFIED: Final = 2
"""ITU-T H.273: primaries or transfer left open."""
BT709_PRIMARIES: Final = 1
SRGB_TRANSFER: Final = 13
"""ITU-T H.273, tables 2 and 3: the two codes that together say sRGB."""
PRIMARIES: Final = {1: "sRGB", 9: "BT.2020", 12: "Display P3"}
TRANSFERS: Final = {1: "BT.709", 8: "linear", 13: "sRGB", 16: "PQ", 18: "HLG"}
"""ITU-T H.273 code points met in pictures, for the message only."""
SRGB_GAMMA: Final = 0.45455
"""gAMA that goes with sRGB, PNG Third Edition, sRGB chunk."""
GAMMA_TOLERANCE: Final = 0.005
"""Gammas taken for the same; no source, 1/2.2 rounded to two digits is within."""
CHROMATICITY_TOLERANCE: Final = 0.001
"""x, y taken for the same; no source, values rounded to three digits are within."""
EXIF_SRGB: Final = 1
EXIF_UNCALIBRATED: Final = 0xFFFF
"""Values of the tag ColorSpace (CIPA DC-008)."""

SPACES: Final[dict[ColorMode, str]] = {"rgb": "RGB", "gray": "GRAY", "cmyk": "CMYK", "lab": "Lab"}
"""Color space a profile must have for a picture's mode."""
PICTURE_KINDS: Final = ("matrix", "gray", "table")


class ColorFacts(TypedDict):
    """What a file says about its colors, JSON-able.

    ``source`` is the statement that counts. ``srgb`` is its verdict, None where nothing is said for
    sure. ``embedded`` tells whether an intact ICC profile is in the file; ``profile`` is that one,
    ``fits`` whether its color space is the picture's (True without a profile). ``conflicts`` are
    statements that are overruled and say otherwise; ``problems`` are damages (what is merely odd
    about a profile is in its own facts).
    """

    source: Source
    srgb: bool | None
    embedded: bool
    profile: ProfileFacts | None
    reason: str
    fits: bool
    conflicts: list[str]
    problems: list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """One place of the file that says something about its colors.

    ``like_srgb`` is what it says roughly, to find statements that contradict each other: gAMA and
    cHRM can only come near sRGB, and are meant to stand beside a better statement.
    """

    source: Source
    srgb: bool | None
    like_srgb: bool | None
    reason: str


def color_facts(
    header: Header, limits: Limits = DEFAULT_LIMITS, exif_color_space: int | None = None
) -> ColorFacts:
    """Weigh the color statements of one file; never raises, damage is told in ``problems``."""
    problems: list[str] = []
    profile: ProfileFacts | None = None
    if header.icc_problem is not None:
        problems.append(header.icc_problem)
    if header.icc is not None:
        try:
            profile = profile_facts(header.icc, limits)
        except DamagedProfileError as damage:
            problems.append(str(damage))
        else:
            problems += profile["problems"]
    fits = profile is None or _fits(profile, header.mode)
    statements = [] if profile is None else [_icc(profile, header.mode, fits=fits)]
    if header.format == "avif":
        statements += _code_points(header, problems)
    elif header.format == "png":
        statements = [*_code_points(header, problems), *statements, *_png_chunks(header)]
    statements += _exif(exif_color_space)
    if statements:
        winner = statements[0]
    elif problems:
        winner = _nothing("the color statement of the file is damaged, so programs have to guess")
    else:
        winner = _nothing(
            "nothing in the file says what its colors mean, so programs have to guess"
        )
    return {
        "source": winner.source,
        "srgb": winner.srgb,
        "embedded": profile is not None,
        "profile": profile,
        "reason": winner.reason,
        "fits": fits,
        "conflicts": [
            f"{winner.reason}; yet {other.reason}"
            for other in statements[1:]
            if None not in {winner.srgb, other.like_srgb} and winner.srgb != other.like_srgb
        ],
        "problems": problems,
    }


def _nothing(reason: str) -> Statement:
    return Statement(source="none", srgb=None, like_srgb=None, reason=reason)


def _fits(profile: ProfileFacts, mode: ColorMode) -> bool:
    if profile["kind"] not in PICTURE_KINDS:
        return False
    return mode not in SPACES or profile["space"] == SPACES[mode]


def _icc(profile: ProfileFacts, mode: ColorMode, *, fits: bool) -> Statement:
    srgb = profile["srgb"] and fits
    if not fits:
        reason = (
            f"the embedded profile is for {profile['space']} colors"
            f" but the picture is {SPACES.get(mode, mode)}"
            if profile["kind"] in PICTURE_KINDS
            else "the embedded profile is of a kind that is not meant for pictures"
        )
    elif srgb:
        reason = "the embedded profile is sRGB by its numbers"
    elif profile["kind"] == "table":
        reason = (
            "the embedded profile works by color tables, so it cannot be shown to be plain sRGB"
            if profile["space"] == "RGB"
            else f"the embedded profile is for {profile['space']} colors"
        )
    else:
        reason = f"the embedded profile is not sRGB: {_differences(profile)}"
    return Statement(source="icc", srgb=srgb, like_srgb=srgb, reason=reason)


def _differences(profile: ProfileFacts) -> str:
    parts = []
    if profile["gamut"] is False:
        parts.append(
            f"its primaries are off by {profile['colorant_deviation']:.3f}"
            f" (at most {COLORANT_TOLERANCE})"
        )
    if profile["curve"] is False:
        parts.append(
            f"its tone curve is off by {profile['curve_deviation']:.1f} code values"
            f" (at most {CURVE_TOLERANCE:g})"
        )
    # Right numbers in a profile whose class or connection space does not allow for them.
    return " and ".join(parts) or "; ".join(profile["oddities"])


def _code_points(header: Header, problems: list[str]) -> list[Statement]:
    """Statement of a PNG's cICP chunk or an AVIF's nclx property, if it makes one."""
    if header.signals.cicp is None:
        return []
    primaries, transfer, matrix, full_range = header.signals.cicp
    source: Source = "nclx" if header.format == "avif" else "cICP"
    if source == "cICP" and (matrix != 0 or full_range > 1):
        # PNG holds RGB only; decoders pass over a chunk that says otherwise.
        problems.append("the cICP chunk is not valid, so programs pass over it")
        return []
    if UNSPECIFIED in {primaries, transfer}:
        return []
    # How AVIF stores its samples (matrix, range) is undone in decoding; a PNG's range is not.
    narrow = source == "cICP" and full_range == 0
    srgb = primaries == BT709_PRIMARIES and transfer == SRGB_TRANSFER and not narrow
    named = (
        f"{PRIMARIES.get(primaries, f'number {primaries}')} primaries and"
        f" {TRANSFERS.get(transfer, f'number {transfer}')} tone curve"
    )
    reason = f"its {source} says {named}" + (", in video range" if narrow else "")
    return [Statement(source=source, srgb=srgb, like_srgb=srgb, reason=reason)]


def _png_chunks(header: Header) -> list[Statement]:
    statements = []
    if header.signals.srgb_intent is not None:
        statements.append(
            Statement(
                source="sRGB chunk", srgb=True, like_srgb=True, reason="its sRGB chunk says sRGB"
            )
        )
    return statements + _gamma_chunks(header.signals.gamma, header.signals.chromaticities)


def _gamma_chunks(gamma: float | None, chromaticities: tuple[float, ...] | None) -> list[Statement]:
    """Statement of gAMA and cHRM; a plain gamma is never within a code value of sRGB's curve."""
    if gamma is None and chromaticities is None:
        return []
    same_primaries = None if chromaticities is None else _srgb_chromaticities(chromaticities)
    near_gamma = None if gamma is None else abs(gamma - SRGB_GAMMA) <= GAMMA_TOLERANCE
    parts = []
    if gamma is not None:
        off = 255.0 if gamma <= 0 else deviation_from_srgb(power_curve(1 / gamma))
        parts.append(f"its gAMA is a plain gamma, off sRGB's curve by {off:.1f} code values")
    if same_primaries is not None:
        parts.append(f"its cHRM primaries are {'' if same_primaries else 'not '}sRGB's")
    known = {same_primaries, near_gamma}
    return [
        Statement(
            source="gAMA/cHRM",
            srgb=None if gamma is None and same_primaries else False,
            like_srgb=False if False in known else None if None in known else True,
            reason=" and ".join(parts),
        )
    ]


def _srgb_chromaticities(chromaticities: tuple[float, ...]) -> bool:
    wanted = [part for pair in (WHITE_XY, *PRIMARIES_XY) for part in pair]
    return len(chromaticities) == len(wanted) and all(
        abs(have - want) <= CHROMATICITY_TOLERANCE
        for have, want in zip(chromaticities, wanted, strict=True)
    )


def _exif(color_space: int | None) -> list[Statement]:
    if color_space == EXIF_SRGB:
        reason, like_srgb = "its Exif data says sRGB, which browsers do not read", True
    elif color_space == EXIF_UNCALIBRATED:
        reason, like_srgb = "its Exif data says that its colors are not calibrated", None
    else:
        return []
    # Too weak for a verdict: browsers pass over it, and editors leave it behind unchanged.
    return [Statement(source="Exif", srgb=None, like_srgb=like_srgb, reason=reason)]
