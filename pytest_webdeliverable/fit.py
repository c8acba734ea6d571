"""Sizes in pixels: what fits a box, what a print needs, how large a web copy prints.

Exact arithmetic on fractions, so that a rounding of ours never fails somebody's picture.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from typing import TYPE_CHECKING, Any, Final, Literal

if TYPE_CHECKING:
    from pytest_webdeliverable.manifest.model import Print, Spec
    from pytest_webdeliverable.manifest.quantities import Trim

PRINT_PPI: Final = 300
"""Pixels per inch of a sharp print at reading distance; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Range:
    """Whole pixels from ``least`` to ``most``, both included."""

    least: int
    most: int

    def __contains__(self, value: object) -> bool:
        return isinstance(value, int) and self.least <= value <= self.most

    def __str__(self) -> str:
        if self.least == self.most:
            return str(self.least)
        return f"up to {self.most}" if self.least == 1 else f"{self.least} to {self.most}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """Sizes a box accepts: any of ``choices``, each a range of widths and one of heights.

    ``binds`` says which side of the box decides, where the trim tells; ``ratio`` holds where the
    shape must follow a trim that the ranges alone do not fix.
    """

    choices: tuple[tuple[Range, Range], ...]
    binds: Literal["width", "height", "both", ""] = ""
    ratio: Fraction | None = None
    overshoot: int = 0

    def accepts(self, width: int, height: int) -> bool:
        """Whether a picture of this size is accepted."""
        if not any(width in across and height in down for across, down in self.choices):
            return False
        return self.ratio is None or keeps_ratio(width, height, self.ratio, self.overshoot)

    def as_json(self) -> dict[str, Any]:
        """Return the ranges for a report."""
        choices = [
            {"width": [across.least, across.most], "height": [down.least, down.most]}
            for across, down in self.choices
        ]
        return choices[0] if len(choices) == 1 else {"either": choices}

    def __str__(self) -> str:
        return ", or ".join(f"{across} x {down} px" for across, down in self.choices)


def expected_size(spec: Spec, trim: Trim | None) -> Expected | None:
    """Return the sizes that a spec accepts for a piece; None where the spec has no box."""
    if spec.box is None:
        return None
    width, height = spec.box
    more = spec.overshoot
    if spec.fill == "exact":
        return Expected(choices=((Range(width, width), Range(height, height)),), binds="both")
    within = (Range(1, width + more), Range(1, height + more))
    if spec.fill == "within":
        ratio = trim.width / trim.height if trim else None
        return Expected(choices=(within,), ratio=ratio, overshoot=more)
    if trim is None:
        return Expected(
            choices=(
                (Range(width, width + more), within[1]),
                (within[0], Range(height, height + more)),
            )
        )
    by_width, by_height = Fraction(width) / trim.width, Fraction(height) / trim.height
    scale = min(by_width, by_height)
    across, down = trim.width * scale, trim.height * scale
    return Expected(
        choices=(
            (
                Range(max(1, floor(across)), ceil(across) + more),
                Range(max(1, floor(down)), ceil(down) + more),
            ),
        ),
        binds="both" if by_width == by_height else "width" if by_width < by_height else "height",
    )


def size_to_export(spec: Spec, trim: Trim | None, shape: Fraction) -> tuple[int, int]:
    """Return the size to aim at: the box itself where it is exact, else what fills it.

    The shape is that of the trim; ``shape``, width / height, stands in where there is none.
    """
    assert spec.box is not None, "there is nothing to aim at without a box"
    width, height = spec.box
    if spec.fill == "exact":
        return width, height
    shape = trim.width / trim.height if trim else shape
    if shape * height >= width:
        return width, max(1, round(width / shape))
    return max(1, round(height * shape)), height


def keeps_ratio(width: int, height: int, ratio: Fraction, overshoot: int) -> bool:
    """Whether some scale of a shape gives this size, each side rounded down or up, plus overshoot."""
    least = max(Fraction(width - overshoot - 1) / ratio, Fraction(height - overshoot - 1))
    most = min(Fraction(width + 1) / ratio, Fraction(height + 1))
    return least < most


def print_pixels(wanted: Print, trim: Trim) -> tuple[Fraction, Fraction]:
    """Return width and height in pixels that a print needs, at trim plus bleed on each side."""
    ppi = Fraction(wanted.ppi).limit_denominator(10**6)
    bleed = 2 * wanted.bleed.pixels(ppi) if wanted.bleed else Fraction(0)
    inches = trim.inches
    if inches is None:
        return trim.width + bleed, trim.height + bleed
    return inches[0] * ppi + bleed, inches[1] * ppi + bleed


def largest_print(width: int, height: int, ppi: int = PRINT_PPI) -> str:
    """Return the largest sensible print of a picture, in words a designer on either side reads."""
    inches = width / ppi, height / ppi
    metric = " x ".join(f"{side * 2.54:.1f}" for side in inches)
    return f"{inches[0]:.1f} x {inches[1]:.1f} in ({metric} cm) at {ppi} ppi"
