"""Quantities as designers write them: finished sizes, lengths, file weights.

Paper sizes: ISO 216:2007 (A and B series), Letter, Legal and Tabloid by common practice.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

Unit = Literal["in", "mm", "cm", "px"]

MM_PER_INCH: Final = Fraction(254, 10)
"""Exact since the international inch of 1959."""

_NUMBER: Final = r"([0-9]{1,7}(?:\.[0-9]{1,6})?)"
_SIZE: Final = re.compile(rf"{_NUMBER} *[x×] *{_NUMBER} *(in|mm|cm|px)")
_LENGTH: Final = re.compile(rf"{_NUMBER} *(in|mm|cm|px)")
_WEIGHT: Final = re.compile(rf"{_NUMBER} *(B|kB|MB|KiB|MiB)")
_PAPER: Final = re.compile(r"([A-Za-z]+[0-8]?)(?: +(portrait|landscape))?")

SIZE_PATTERN: Final = (
    r"^\s*[0-9]{1,7}(\.[0-9]{1,6})? *[x×] *[0-9]{1,7}(\.[0-9]{1,6})? *(in|mm|cm|px)\s*$"
    r"|^\s*([ABab][0-8]|[Ll]etter|[Ll]egal|[Tt]abloid)( +(portrait|landscape))?\s*$"
)
LENGTH_PATTERN: Final = r"^\s*[0-9]{1,7}(\.[0-9]{1,6})? *(in|mm|cm|px)\s*$"
WEIGHT_PATTERN: Final = r"^\s*[0-9]{1,7}(\.[0-9]{1,6})? *(B|kB|MB|KiB|MiB)\s*$"

_BYTES: Final = {"B": 1, "kB": 1000, "MB": 1_000_000, "KiB": 1024, "MiB": 1024**2}

PAPERS: Final[dict[str, tuple[Fraction, Fraction, Unit]]] = {
    **{
        name: (Fraction(short), Fraction(long), "mm")
        for name, short, long in (
            ("A0", 841, 1189),
            ("A1", 594, 841),
            ("A2", 420, 594),
            ("A3", 297, 420),
            ("A4", 210, 297),
            ("A5", 148, 210),
            ("A6", 105, 148),
            ("A7", 74, 105),
            ("A8", 52, 74),
            ("B0", 1000, 1414),
            ("B1", 707, 1000),
            ("B2", 500, 707),
            ("B3", 353, 500),
            ("B4", 250, 353),
            ("B5", 176, 250),
            ("B6", 125, 176),
            ("B7", 88, 125),
            ("B8", 62, 88),
        )
    },
    "Letter": (Fraction(17, 2), Fraction(11), "in"),
    "Legal": (Fraction(17, 2), Fraction(14), "in"),
    "Tabloid": (Fraction(11), Fraction(17), "in"),
}


@dataclass(frozen=True, slots=True)
class Trim:
    """Finished size of the printed piece; ``text`` is how the manifest writes it."""

    width: Fraction
    height: Fraction
    unit: Unit
    text: str

    @property
    def inches(self) -> tuple[Fraction, Fraction] | None:
        """Width and height in inches; None for a size in pixels, which has no length."""
        if self.unit == "px":
            return None
        per_inch = _per_inch(self.unit)
        return self.width / per_inch, self.height / per_inch


@dataclass(frozen=True, slots=True)
class Length:
    """One length, such as a bleed."""

    value: Fraction
    unit: Unit
    text: str

    def pixels(self, ppi: Fraction) -> Fraction:
        """Length in pixels at a density."""
        return self.value if self.unit == "px" else self.value / _per_inch(self.unit) * ppi


def _per_inch(unit: Unit) -> Fraction:
    return {"in": Fraction(1), "mm": MM_PER_INCH, "cm": MM_PER_INCH / 10, "px": Fraction(1)}[unit]


def parse_trim(text: str) -> Trim | None:
    """Read ``"11 x 17 in"`` or ``"A3 landscape"``; None where it is neither."""
    clean = " ".join(text.split())  # it is repeated in messages
    if match := _SIZE.fullmatch(text.strip()):
        width, height = Fraction(match[1]), Fraction(match[2])
        return Trim(width, height, _unit(match[3]), clean) if width and height else None
    if match := _PAPER.fullmatch(text.strip()):
        paper = PAPERS.get(match[1][:1].upper() + match[1][1:].lower())
        if paper is not None:
            short, long, unit = paper
            turned = match[2] == "landscape"
            return Trim(long if turned else short, short if turned else long, unit, clean)
    return None


def parse_length(text: str) -> Length | None:
    """Read ``"3 mm"``; None where it is no length."""
    match = _LENGTH.fullmatch(text.strip())
    clean = " ".join(text.split())
    return Length(Fraction(match[1]), _unit(match[2]), clean) if match else None


def parse_weight(text: str) -> int | None:
    """Read ``"900 kB"`` as bytes; None where it is no weight."""
    match = _WEIGHT.fullmatch(text.strip())
    weight = int(Fraction(match[1]) * _BYTES[match[2]]) if match else 0
    return weight or None


def format_weight(count: int) -> str:
    """Write bytes in the unit a person would choose: 940 B, 312 kB, 1.5 MB."""
    if count < 1000:
        return f"{count} B"
    if count < 999_500:
        return f"{count / 1000:.0f} kB" if count >= 10_000 else f"{count / 1000:.1f} kB"
    return f"{count / 1_000_000:.2f} MB"


def _unit(text: str) -> Unit:
    units: dict[str, Unit] = {"in": "in", "mm": "mm", "cm": "cm", "px": "px"}
    return units[text]
