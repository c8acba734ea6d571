"""How different two colors look: CIE L*a*b* and the CIEDE2000 color difference.

Sources: CIE 15:2004 (L*a*b*); Sharma, Wu, Dalal, "The CIEDE2000 Color-Difference Formula", Color
Research and Application 30(1), 2005 (formula, its traps, and the 34 pairs the tests use), with
kL = kC = kH = 1.
"""

from __future__ import annotations

from functools import lru_cache
from math import atan2, cos, exp, hypot, pi, radians, sin, sqrt
from typing import Final

from pytest_webdeliverable.measure.srgb import LINEAR, RGB_TO_XYZ_D65

Lab = tuple[float, float, float]

# CIE 15:2004: below (6/29)^3 the cube root gives way to a straight line.
KNEE: Final = (6 / 29) ** 3
SLOPE: Final = (29 / 6) ** 2 / 3
INTERCEPT: Final = 4 / 29

CHROMA_7: Final = 25.0**7
"""The 25^7 of the formula, where chroma 25 is the middle of its transition."""
TURN: Final = 2 * pi

# Rows scaled by the white's X, Y, Z, so that each neutral color gets a = b = 0.
_ROWS: Final = tuple(tuple(cell / sum(row) for cell in row) for row in RGB_TO_XYZ_D65)


def _root(ratio: float) -> float:
    return float(ratio ** (1 / 3)) if ratio > KNEE else SLOPE * ratio + INTERCEPT


def lab_of_ratios(x: float, y: float, z: float) -> Lab:
    """Return CIE L*, a*, b* of a color given as X/Xn, Y/Yn, Z/Zn, relative to any white."""
    x, y, z = _root(x), _root(y), _root(z)
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


@lru_cache(maxsize=65_536)
def lab(rgb: tuple[int, int, int]) -> Lab:
    """Return CIE L*, a*, b* (D65, 2 degree observer) of an 8-bit sRGB color."""
    red, green, blue = LINEAR[rgb[0]], LINEAR[rgb[1]], LINEAR[rgb[2]]
    row_x, row_y, row_z = _ROWS
    return lab_of_ratios(
        row_x[0] * red + row_x[1] * green + row_x[2] * blue,
        row_y[0] * red + row_y[1] * green + row_y[2] * blue,
        row_z[0] * red + row_z[1] * green + row_z[2] * blue,
    )


def ciede2000(lab1: Lab, lab2: Lab) -> float:
    """Return the CIEDE2000 difference of two L*, a*, b* colors; about 1 is just noticeable."""
    light1, a1, b1 = lab1
    light2, a2, b2 = lab2

    mean_chroma_7 = ((hypot(a1, b1) + hypot(a2, b2)) / 2) ** 7
    stretch = 1.5 - 0.5 * sqrt(mean_chroma_7 / (mean_chroma_7 + CHROMA_7))
    a1 *= stretch
    a2 *= stretch
    chroma1, chroma2 = hypot(a1, b1), hypot(a2, b2)
    hue1, hue2 = atan2(b1, a1) % TURN, atan2(b2, a2) % TURN

    # Where one color has no chroma its hue means nothing, but then all hue terms are 0 as well.
    turn, mean_hue = hue2 - hue1, (hue1 + hue2) / 2
    if abs(turn) > pi:
        turn += TURN if turn < 0 else -TURN
        mean_hue += pi if mean_hue < pi else -pi

    delta_light = light2 - light1
    delta_chroma = chroma2 - chroma1
    delta_hue = 2 * sqrt(chroma1 * chroma2) * sin(turn / 2)

    mean_light_50 = ((light1 + light2) / 2 - 50) ** 2
    mean_chroma = (chroma1 + chroma2) / 2
    hue_weight = (
        1
        - 0.17 * cos(mean_hue - radians(30))
        + 0.24 * cos(2 * mean_hue)
        + 0.32 * cos(3 * mean_hue + radians(6))
        - 0.20 * cos(4 * mean_hue - radians(63))
    )
    light_term = delta_light / (1 + 0.015 * mean_light_50 / sqrt(20 + mean_light_50))
    chroma_term = delta_chroma / (1 + 0.045 * mean_chroma)
    hue_term = delta_hue / (1 + 0.015 * mean_chroma * hue_weight)

    mean_chroma_7 = mean_chroma**7
    blue_turn = radians(30) * exp(-(((mean_hue - radians(275)) / radians(25)) ** 2))
    rotation = -2 * sqrt(mean_chroma_7 / (mean_chroma_7 + CHROMA_7)) * sin(2 * blue_turn)

    total = light_term**2 + chroma_term**2 + hue_term**2 + rotation * chroma_term * hue_term
    return sqrt(max(total, 0.0))


def delta_e(rgb1: tuple[int, int, int], rgb2: tuple[int, int, int]) -> float:
    """Return the CIEDE2000 difference of two 8-bit sRGB colors."""
    return ciede2000(lab(rgb1), lab(rgb2))
