"""Rules on size: pixels for the box, density, pixels for a print."""

from __future__ import annotations

from fractions import Fraction
from math import floor
from typing import TYPE_CHECKING, ClassVar, Final

from pytest_webdeliverable.fit import (
    Expected,
    expected_size,
    largest_print,
    print_pixels,
    size_to_export,
)
from pytest_webdeliverable.manifest.model import Ppi
from pytest_webdeliverable.rules.base import (
    Case,
    Family,
    PieceRule,
    Verdict,
    fails,
    holds,
)

if TYPE_CHECKING:
    from pytest_webdeliverable.manifest.model import Piece, Spec
    from pytest_webdeliverable.measure.facts import DensityFacts, HeaderFacts

NEAR: Final = 1.0
"""Pixels per inch by which two densities may differ and still be the same after rounding: files store
whole pixels per inch, centimeter or meter, and 72 ppi is 28 per cm, which reads 71.12 (ITU-T T.871)."""


class PixelSize(PieceRule):
    """The picture has the pixel size that the site's box asks for.

    "touch": one side of the box is reached and the other not passed; with a trim, both sides follow its
    shape. Exporters round up by a pixel, so the spec's overshoot is allowed. The size is the one shown,
    after an orientation flag (CSS Images 3, image-orientation).
    """

    family: ClassVar[Family] = "size"

    def applies(self, piece: Piece) -> bool:
        return piece.spec.box is not None

    def check(self, case: Case) -> Verdict:
        expected = expected_size(case.spec, case.piece.trim)
        assert expected is not None, "applies() looked"
        header = case.measured["header"]
        width, height = header["width"], header["height"]
        measured = f"{width} x {height} px"
        if header["stored"] != [width, height]:
            measured += " as shown (its orientation flag turns it)"
        evidence = {"width": width, "height": height, "expected": expected.as_json()}
        if expected.accepts(width, height):
            return holds(f"{measured}, expected {expected}", **evidence)
        return fails(
            f"{measured}, expected {expected}: {_reason(case, expected, width, height)}",
            f"{_aim(case, width, height)} {print_caution(width, height)}",
            **evidence,
        )


def _aim(case: Case, width: int, height: int) -> str:
    spec, trim = case.spec, case.piece.trim
    across, down = size_to_export(spec, trim, Fraction(width, height))
    doubt = "" if trim or spec.fill == "exact" else ", if its shape is right"
    return (
        f"Go back to the original and export it again at {across} x {down} px{doubt}; do not edit and "
        "re-save this copy."
    )


def _reason(case: Case, expected: Expected, width: int, height: int) -> str:
    spec, trim = case.spec, case.piece.trim
    assert spec.box is not None, "applies() looked"
    across, down = spec.box
    box = f"{across} x {down} px box"
    if spec.fill == "exact":
        return f"the spec asks for exactly the {box}"
    more = spec.overshoot
    if height > width and across > down and across <= height <= across + more:
        return (
            f"the long side is {height} px, but the box is not turned for tall work: "
            f"a tall picture is at most {down} px high"
        )
    if width > across + more or height > down + more:
        side = "wide" if width > across + more else "high"
        return f"it is too {side} for the {box}"
    if trim is None:
        return f"it is too small: it touches neither side of the {box}"
    shape = f"the trim of {trim.text}"
    if expected.binds:
        full = "both sides" if expected.binds == "both" else f"the {expected.binds}"
        return (
            f"for {shape} {full} of the {box} must be reached, and the other side follows from it"
        )
    return f"its shape is not that of {shape}"


def print_caution(width: int, height: int) -> str:
    """Return the usual caution of a web copy."""
    return (
        f"A web copy is not for printing: {width} x {height} px make at most "
        f"{largest_print(width, height)}."
    )


class Density(PieceRule):
    """The density written in the file is the one asked for.

    It is read where it stands: JFIF (ITU-T T.871), Exif (CIPA DC-008), PNG pHYs (W3C PNG 3rd edition),
    TIFF 6.0. All places must agree, and both axes.
    """

    family: ClassVar[Family] = "size"

    def applies(self, piece: Piece) -> bool:
        return piece.spec.ppi is not None

    def check(self, case: Case) -> Verdict:
        header = case.measured["header"]
        stated = [item for item in header["densities"] if item["x"] and item["y"]]
        asked = _asked(case.spec)
        if not stated:
            empty = ", ".join(item["place"] for item in header["densities"])
            where = f" ({empty} is there but gives none)" if empty else ""
            return fails(
                f"no density is written in the file{where}; the spec asks for {asked}",
                f"Go back to the original and export it with {asked}.",
            )
        evidence = {"densities": [dict(item) for item in header["densities"]]}
        shown = ", ".join(_shown(item) for item in stated)
        problem = _density_problem(stated, case.spec)
        half = [item["place"] for item in header["densities"] if bool(item["x"]) != bool(item["y"])]
        if problem is None and half:
            problem = f": {half[0]} gives it for one axis only"
        if problem is not None:
            caution = "" if isinstance(case.spec.ppi, Ppi) else _caution(header)
            return fails(
                f"{shown}; the spec asks for {asked}{problem}",
                f"Go back to the original and export it with {asked}; do not edit and re-save this "
                f"copy.{caution}",
                **evidence,
            )
        return holds(f"{shown}; the spec asks for {asked}", **evidence)


def _caution(header: HeaderFacts) -> str:
    return f" {print_caution(header['width'], header['height'])}"


def _density_problem(stated: list[DensityFacts], spec: Spec) -> str | None:
    """Say what is wrong, ``""`` where the numbers show it by themselves; None: nothing is."""
    pairs = [(item["x"] or 0.0, item["y"] or 0.0) for item in stated]
    if any(abs(x - y) >= NEAR for x, y in pairs):
        return ": the two axes differ"
    values = [x for x, _ in pairs]
    if max(values) - min(values) >= NEAR:
        return ": two places in the file disagree"
    if isinstance(spec.ppi, Ppi):
        wrong = min(min(pair) for pair in pairs) <= spec.ppi.min - NEAR
    else:
        asked = spec.ppi or 0.0
        wrong = any(abs(side - asked) >= NEAR for pair in pairs for side in pair)
    return "" if wrong else None


def _asked(spec: Spec) -> str:
    ppi = spec.ppi
    return f"at least {ppi.min:g} ppi" if isinstance(ppi, Ppi) else f"{ppi:g} ppi"


def _shown(item: DensityFacts) -> str:
    x, y = item["x"], item["y"]
    value = f"{x:.4g}" if x == y else f"{x:.4g} x {y:.4g}"
    return f"{value} ppi in {item['place']}"


class PrintSize(PieceRule):
    """The picture has the pixels that a print needs at trim plus bleed.

    Pixels = length x ppi, with 25.4 mm to the inch exactly; 300 ppi and 3 mm are common practice, no
    source. The printer's own guidelines go first.
    """

    family: ClassVar[Family] = "size"

    def applies(self, piece: Piece) -> bool:
        return piece.spec.print_ is not None

    def check(self, case: Case) -> Verdict:
        wanted, trim = case.spec.print_, case.piece.trim
        assert wanted is not None, "applies() looked"
        header = case.measured["header"]
        width, height = header["width"], header["height"]
        if trim is None:
            return fails(
                f"{width} x {height} px, but the manifest names no finished size to judge it by",
                'Add the finished size to the piece, such as trim = "297 x 420 mm".',
            )
        across, down = print_pixels(wanted, trim)
        bleed = f" plus {wanted.bleed.text} bleed on each side" if wanted.bleed else ""
        least = (floor(across), floor(down))
        message = (
            f"{width} x {height} px; the print needs at least {least[0]} x {least[1]} px: "
            f"{trim.text}{bleed}, at {wanted.ppi:g} ppi"
        )
        evidence = {"width": width, "height": height, "least": list(least)}
        if width < least[0] or height < least[1]:
            return fails(
                message,
                "Go back to the original and export it at this size; enlarging adds no detail. "
                "The printer's own guidelines go first.",
                **evidence,
            )
        return holds(message, **evidence)
