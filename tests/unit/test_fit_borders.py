"""Sizes at the border of what a box accepts, worked with fractions by hand."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from pytest_webdeliverable.fit import (
    Range,
    expected_size,
    keeps_ratio,
    largest_print,
    print_pixels,
    size_to_export,
)
from pytest_webdeliverable.manifest.model import Print, Spec
from pytest_webdeliverable.manifest.quantities import parse_length, parse_trim


@pytest.mark.parametrize(
    ("value", "inside"), [(2, False), (3, True), (5, True), (6, False), (4.0, False), ("4", False)]
)
def test_a_range_holds_whole_numbers_with_both_ends(value: object, inside: bool) -> None:
    assert (value in Range(3, 5)) is inside


@pytest.mark.parametrize(
    ("least", "most", "words"),
    [(5, 5, "5"), (1, 1, "1"), (1, 9, "up to 9"), (2, 9, "2 to 9"), (0, 9, "0 to 9")],
)
def test_a_range_in_words(least: int, most: int, words: str) -> None:
    assert str(Range(least, most)) == words


@pytest.mark.parametrize(
    ("fill", "overshoot", "trim", "words", "binds"),
    [
        ("exact", 1, None, "1600 x 1200 px", "both"),
        ("within", 2, None, "up to 1602 x up to 1202 px", ""),
        ("within", 2, "2 x 1 in", "up to 1602 x up to 1202 px", ""),
        ("touch", 1, None, "1600 to 1601 x up to 1201 px, or up to 1601 x 1200 to 1201 px", ""),
        ("touch", 0, None, "1600 x up to 1200 px, or up to 1600 x 1200 px", ""),
        ("touch", 0, "4 x 3 in", "1600 x 1200 px", "both"),
        ("touch", 0, "2 x 1 in", "1600 x 800 px", "width"),
        ("touch", 3, "2 x 1 in", "1600 to 1603 x 800 to 803 px", "width"),
        ("touch", 0, "1 x 2 in", "600 x 1200 px", "height"),
        # 1600 / 3 = 533.33
        ("touch", 0, "3 x 1 in", "1600 x 533 to 534 px", "width"),
        ("touch", 1, "1 x 7 in", "171 to 173 x 1200 to 1201 px", "height"),
    ],
)  # fmt: skip
def test_what_is_expected_in_words(
    fill: str, overshoot: int, trim: str | None, words: str, binds: str
) -> None:
    spec = Spec(box=(1600, 1200), fill=fill, overshoot=overshoot)  # type: ignore[arg-type]
    expected = expected_size(spec, parse_trim(trim) if trim else None)
    assert expected is not None
    assert (str(expected), expected.binds) == (words, binds)


def test_choices_for_a_report() -> None:
    touch = expected_size(Spec(box=(16, 12), overshoot=1), None)
    within = expected_size(Spec(box=(16, 12), overshoot=2, fill="within"), None)
    assert touch is not None
    assert within is not None
    assert touch.as_json() == {
        "either": [
            {"width": [16, 17], "height": [1, 13]},
            {"width": [1, 17], "height": [12, 13]},
        ]
    }
    assert within.as_json() == {"width": [1, 18], "height": [1, 14]}


@pytest.mark.parametrize("overshoot", [0, 1, 3])
@pytest.mark.parametrize("shape", [Fraction(4, 3), Fraction(3, 4), Fraction(11, 17), Fraction(5)])
def test_a_shape_is_kept_by_exactly_the_sizes_that_rounding_gives(
    shape: Fraction, overshoot: int
) -> None:
    """All scales of a small shape, tried: each side rounded down or up, and overshoot beyond.

    Sides change at whole numbers only, so scales at and between them are all that there are.
    """
    most = 24
    scales = {Fraction(at) / side for at in range(most + 2) for side in (shape, Fraction(1))}
    ordered = sorted(scale for scale in scales if scale > 0)
    between = [(a + b) / 2 for a, b in pairwise(ordered)]
    kept = set()
    for scale in (*ordered, *between, ordered[0] / 2):
        wide, high = shape * scale, scale
        for across in range(wide.__floor__(), wide.__ceil__() + overshoot + 1):
            for down in range(high.__floor__(), high.__ceil__() + overshoot + 1):
                kept.add((across, down))
    for across in range(1, most // 2):
        for down in range(1, most // 2):
            assert keeps_ratio(across, down, shape, overshoot) is ((across, down) in kept)


@pytest.mark.parametrize(
    ("fill", "trim", "shape", "size"),
    [
        ("touch", None, Fraction(4, 3), (1600, 1200)),
        ("touch", None, Fraction(2), (1600, 800)),
        ("touch", None, Fraction(1, 2), (600, 1200)),
        ("within", None, Fraction(1601, 1200), (1600, 1199)),  # 1199.25
        ("exact", None, Fraction(1, 2), (1600, 1200)),
        ("touch", "2 x 1 in", Fraction(1, 2), (1600, 800)),
        ("touch", "1 x 3 in", Fraction(2), (400, 1200)),
        ("touch", None, Fraction(5000), (1600, 1)),
        ("touch", None, Fraction(1, 5000), (1, 1200)),
    ],
)
def test_the_size_to_export(fill: str, trim: str | None, shape: Fraction, size: Any) -> None:
    spec = Spec(box=(1600, 1200), fill=fill)  # type: ignore[arg-type]
    assert size_to_export(spec, parse_trim(trim) if trim else None, shape) == size


@pytest.mark.parametrize(
    ("trim", "bleed", "ppi", "size"),
    [
        ("2 x 3 in", None, 300, (600, 900)),
        ("2 x 3 in", "0.5 in", 300, (900, 1200)),
        ("254 x 127 mm", "25.4 mm", 100, (1200, 700)),
        ("25.4 x 12.7 cm", "2.54 cm", 100, (1200, 700)),
        ("600 x 400 px", None, 300, (600, 400)),
        ("600 x 400 px", "10 px", 300, (620, 420)),
        ("600 x 400 px", "1 in", 150.5, (901, 701)),
        ("2 x 2 in", "10 px", 72, (164, 164)),
        ("1000 x 1 in", None, 72.009, (72_009, Fraction(72_009, 1000))),
    ],
)
def test_pixels_of_a_print(trim: str, bleed: str | None, ppi: float, size: Any) -> None:
    """Bleed is added on both sides of each length; a length in pixels has no density.

    A density is the decimal number that the manifest writes, not the nearest binary one.
    """
    finished = parse_trim(trim)
    assert finished is not None
    wanted = Print(ppi=ppi, bleed=parse_length(bleed) if bleed else None)
    assert print_pixels(wanted, finished) == size


@pytest.mark.parametrize(
    ("width", "height", "ppi", "words"),
    [
        (300, 600, 300, "1.0 x 2.0 in (2.5 x 5.1 cm) at 300 ppi"),
        (3600, 10_800, 72, "50.0 x 150.0 in (127.0 x 381.0 cm) at 72 ppi"),
        (1, 1, 300, "0.0 x 0.0 in (0.0 x 0.0 cm) at 300 ppi"),
        (400, 1000, 150, "2.7 x 6.7 in (6.8 x 16.9 cm) at 150 ppi"),
    ],
)
def test_the_largest_print_has_both_units(width: int, height: int, ppi: int, words: str) -> None:
    """2.54 cm to the inch: 400 / 150 = 2.667 in = 6.773 cm."""
    assert largest_print(width, height, ppi) == words
