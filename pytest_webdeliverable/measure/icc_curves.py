"""The tone curves of an ICC profile, worked out at the 256 codes of an 8-bit picture.

Layout and formulas from ICC.1:2022, 10.6 (curveType) and 10.18 (parametricCurveType).
"""

from __future__ import annotations

import struct
from math import exp, log
from typing import Final

from pytest_webdeliverable.measure.icc_tags import (
    ELEMENT_HEAD,
    S15_FIXED_16,
    DamagedProfileError,
    signature,
)
from pytest_webdeliverable.measure.srgb import CODES, encode

Curve = tuple[float, ...]
"""Light (0..1) of each 8-bit code."""

U8_FIXED_8: Final = 256
"""Divisor of a u8Fixed8Number, which holds a single gamma."""
TABLE_TOP: Final = 65_535
"""The table entry that stands for full light."""
PARAMETERS: Final = (1, 3, 4, 5, 7)
"""Number of parameters of parametric functions 0..4."""
CUT_OFF: Final = "the color profile is damaged: a tone curve is cut off"


def read_curve(element: bytes) -> Curve:
    """Return the light (0..1) of each 8-bit code; raise DamagedProfileError for a broken curve."""
    if len(element) < ELEMENT_HEAD + 4:
        raise DamagedProfileError(CUT_OFF)
    if signature(element[:4]) == "para":
        return _parametric(element)
    count = struct.unpack_from(">I", element, ELEMENT_HEAD)[0]
    start = ELEMENT_HEAD + 4
    if start + 2 * count > len(element):
        raise DamagedProfileError(CUT_OFF)
    if count == 0:
        return tuple(code / (CODES - 1) for code in range(CODES))
    if count == 1:
        gamma = struct.unpack_from(">H", element, start)[0] / U8_FIXED_8
        return tuple(_power(code / (CODES - 1), gamma) for code in range(CODES))
    return tuple(_look_up(element, start, count, code) for code in range(CODES))


def _look_up(element: bytes, start: int, count: int, code: int) -> float:
    """Straight line between the two table entries beside a code."""
    below, part = divmod(code * (count - 1), CODES - 1)
    low: int = struct.unpack_from(">H", element, start + 2 * below)[0]
    if part == 0:
        return low / TABLE_TOP
    high: int = struct.unpack_from(">H", element, start + 2 * below + 2)[0]
    return (low + (high - low) * part / (CODES - 1)) / TABLE_TOP


def _power(base: float, exponent: float) -> float:
    """Power of the parametric functions; a base below 0 has none and counts as black."""
    if base <= 0:
        return 1.0 if base == 0 and exponent == 0 else 0.0
    # Results are clipped to 1 anyway; without a ceiling large parameters would overflow.
    return exp(min(exponent * log(base), 64.0))


def _parametric(element: bytes) -> Curve:
    function = struct.unpack_from(">H", element, ELEMENT_HEAD)[0]
    if function >= len(PARAMETERS):
        raise DamagedProfileError(
            f"the color profile is damaged: its tone curve has the unknown form {function}"
        )
    count = PARAMETERS[function]
    if len(element) < ELEMENT_HEAD + 4 + 4 * count:
        raise DamagedProfileError(CUT_OFF)
    stored = struct.unpack_from(f">{count}i", element, ELEMENT_HEAD + 4)
    values = [value / S15_FIXED_16 for value in stored]
    if values[0] <= 0:
        raise DamagedProfileError("the color profile is damaged: its tone curve has no exponent")
    g, a, b, c, d, e, f = _general(function, values)

    def light(x: float) -> float:
        return _power(a * x + b, g) + e if x >= d else c * x + f

    return tuple(min(1.0, max(0.0, light(code / (CODES - 1)))) for code in range(CODES))


def _general(function: int, values: list[float]) -> list[float]:
    """Parameters g a b c d e f of function 4, of which functions 0 to 3 are special cases."""
    if function == 0:
        return [values[0], 1.0, 0.0, 0.0, 0.0, 0.0, 0.0]
    if function in {1, 2}:
        g, a, b, offset = [*values, 0.0][:4]
        if a == 0:
            raise DamagedProfileError(
                "the color profile is damaged: its tone curve divides by zero"
            )
        return [g, a, b, 0.0, -b / a, offset, offset]
    return [*values, 0.0, 0.0][:7]


def codes_of(curve: Curve) -> list[float]:
    """Return the sRGB code (0..255, with fraction) that shows the same light, for each code."""
    return [(CODES - 1) * encode(light) for light in curve]


def deviation_from_srgb(curve: Curve) -> float:
    """Return the most by which a curve is off sRGB's over all 256 codes, in 8-bit code values."""
    return max(abs(shown - code) for code, shown in enumerate(codes_of(curve)))


def power_curve(exponent: float) -> Curve:
    """Return the curve of a plain gamma, such as 2.2."""
    return tuple(_power(code / (CODES - 1), exponent) for code in range(CODES))
