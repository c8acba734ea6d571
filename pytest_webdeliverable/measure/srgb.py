"""sRGB as numbers: transfer curve, primaries, the colorants an ICC profile stores, luminance.

Sources: IEC 61966-2-1:1999 with Amd 1:2003 (curve, primaries, matrix); ICC.1:2022 (D50 white of the
profile connection space); WCAG 2.2 (relative luminance).
"""

from __future__ import annotations

from typing import Final

# IEC 61966-2-1, transfer characteristics. No units: codes and light both run 0..1.
LINEAR_SLOPE: Final = 12.92
POWER: Final = 2.4
OFFSET: Final = 0.055
DECODE_KNEE: Final = 0.04045
ENCODE_KNEE: Final = 0.0031308

CODES: Final = 256
"""Number of 8-bit code values."""

PRIMARIES_XY: Final = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
"""CIE 1931 x, y of red, green, blue; the same as ITU-R BT.709."""
WHITE_XY: Final = (0.3127, 0.3290)
"""CIE 1931 x, y of the white, D65."""

RGB_TO_XYZ_D65: Final = (
    (0.4123908, 0.3575843, 0.1804808),
    (0.2126390, 0.7151687, 0.0721923),
    (0.0193308, 0.1191948, 0.9505322),
)
"""Linear RGB to XYZ relative to D65, worked out from the primaries to seven digits."""

RED_D50: Final = (0.43604, 0.22248, 0.01392)
GREEN_D50: Final = (0.38511, 0.71691, 0.09707)
BLUE_D50: Final = (0.14305, 0.06061, 0.71391)
COLORANTS_D50: Final = (RED_D50, GREEN_D50, BLUE_D50)
"""XYZ of the primaries adapted to D50 by Bradford: rXYZ, gXYZ, bXYZ of an ICC profile."""

LUMINANCE_WEIGHTS: Final = (0.2126, 0.7152, 0.0722)
"""Weights of linear red, green, blue in WCAG's relative luminance."""


def decode(value: float) -> float:
    """Return the light (0..1) that an encoded value (0..1) stands for."""
    if value <= DECODE_KNEE:
        return value / LINEAR_SLOPE
    return float(((value + OFFSET) / (1 + OFFSET)) ** POWER)


def encode(light: float) -> float:
    """Return the encoded value (0..1) for an amount of light (0..1)."""
    if light <= ENCODE_KNEE:
        return light * LINEAR_SLOPE
    return float((1 + OFFSET) * light ** (1 / POWER) - OFFSET)


LINEAR: Final = tuple(decode(code / (CODES - 1)) for code in range(CODES))
"""Light (0..1) of each 8-bit code."""
