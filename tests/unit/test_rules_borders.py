"""Verdicts exactly at, just inside and just outside a border, and the numbers that they tell.

The numbers are worked by hand from the facts given.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from sound_facts import GOOD, SPEC, changed, verdict

from pytest_webdeliverable.manifest.model import Ppi
from pytest_webdeliverable.manifest.quantities import parse_length, parse_trim
from pytest_webdeliverable.rules import size

# Color


@pytest.mark.parametrize(
    ("share", "shown", "evidence"),
    [
        (0.0009999, "less than 0.1% of", 0.001),
        (0.001, "0.1% of", 0.001),
        (0.12345678, "12.3% of", 0.123457),
        (1.0, "100.0% of", 1.0),
    ],
)
def test_the_share_that_is_see_through(share: float, shown: str, evidence: float) -> None:
    """A share below a thousandth is not called 0.0%; six decimals go into the evidence."""
    found = verdict("transparency", changed("pixels.see_through", share))
    assert found.passed is False
    assert found.message.startswith(shown)
    assert found.evidence == {"share": evidence}


def test_a_channel_that_hides_nothing_is_told() -> None:
    assert "opaque everywhere" in verdict("transparency", changed("header.alpha", True)).message
    assert verdict("transparency").message == "the picture is opaque"


def test_two_color_models_may_be_allowed() -> None:
    found = verdict("color-mode", changed("header.mode", "lab"), color_mode=("rgb", "gray"))
    assert found.message == "the picture is Lab, the spec asks for RGB or gray"
    assert found.evidence == {"mode": "lab"}
    assert verdict("color-mode").message == "the picture is RGB"


def test_the_bits_of_a_sample() -> None:
    found = verdict("bit-depth", changed("header.bits", 8), bit_depth=16)
    assert found.message == "8 bits per sample, the spec asks for 16"
    assert "with 16 bits" in found.advice
    assert found.evidence == {"bits": 8}


@pytest.mark.parametrize(
    ("facts", "asked", "passed"),
    [
        ({"profile": None, "problems": []}, "none", True),
        ({"profile": None, "problems": ["it is cut short"]}, "none", False),
        ({"profile": {}, "problems": []}, "none", False),
        ({"embedded": True}, "embedded", True),
        ({"fits": False, "reason": "it is for CMYK"}, "srgb", False),
    ],
)
def test_profiles_asked_for(facts: dict[str, Any], asked: str, passed: bool) -> None:
    found = verdict("color-profile", GOOD | {"color": GOOD["color"] | facts}, profile=asked)
    assert found.passed is passed
    if "fits" in facts:
        assert found.message == "it is for CMYK"
    if asked != "none":
        assert found.evidence == {"source": "icc", "srgb": True}


# Size: densities are the same within a pixel per inch


@pytest.mark.parametrize(
    ("x", "y", "ppi", "words"),
    [
        (72.99, 72.99, 72, None),
        (73.0, 73.0, 72, ""),
        (71.01, 71.01, 72, None),
        (71.0, 71.0, 72, ""),
        (72.9, 71.9, 72, ": the two axes differ"),
        (72.9, 71.95, 72, None),
        (72.95, 73.0, 72, ""),
        (299.01, 299.01, Ppi(min=300), None),
        (299.0, 299.0, Ppi(min=300), ""),
        (299.5, 299.0, Ppi(min=300), ""),
        (1200.0, 1200.0, Ppi(min=300), None),
    ],
)
def test_a_density_within_a_pixel_per_inch(x: float, y: float, ppi: Any, words: str | None) -> None:
    stated: Any = [{"place": "pHYs", "x": x, "y": y}]
    assert size._density_problem(stated, replace(SPEC, ppi=ppi)) == words


@pytest.mark.parametrize(("other", "words"), [(72.99, None), (73.0, ": two places in the file disagree")])  # fmt: skip
def test_two_places_within_a_pixel_per_inch(other: float, words: str | None) -> None:
    stated: Any = [{"place": "JFIF", "x": 72.0, "y": 72.0}, {"place": "Exif", "x": other, "y": 72.5}]  # fmt: skip
    assert size._density_problem(stated, replace(SPEC, ppi=72.5)) == words


@pytest.mark.parametrize(
    ("x", "y", "shown"),
    [(72.0, 72.0, "72 ppi in pHYs"), (72.009, 72.009, "72.01 ppi in pHYs"), (300.0, 150.5, "300 x 150.5 ppi in pHYs")],
)  # fmt: skip
def test_a_density_in_words(x: float, y: float, shown: str) -> None:
    found = verdict("density", changed("header.densities.0", {"place": "pHYs", "x": x, "y": y}))
    assert found.message.startswith(f"{shown}; the spec asks for 72 ppi")
    assert found.evidence["densities"] == [{"place": "pHYs", "x": x, "y": y}]


def test_one_number_of_a_density_is_none() -> None:
    """Half a density states none; its place is named."""
    for item in ({"x": 72.0, "y": None}, {"x": None, "y": 72.0}, {"x": 0.0, "y": 72.0}):
        found = verdict("density", changed("header.densities.0", {"place": "Exif", **item}))
        assert "(Exif is there but gives none); the spec asks for 72 ppi" in found.message


def test_the_caution_about_prints_is_for_web_copies() -> None:
    """1600 / 300 = 5.33 in, 1200 / 300 = 4 in. A spec with a least density is for prints: no caution."""
    wrong = changed("header.densities.0", {"place": "JFIF", "x": 96.0, "y": 96.0})
    assert "1600 x 1200 px make at most 5.3 x 4.0 in" in verdict("density", wrong).advice
    found = verdict("density", wrong, ppi=Ppi(min=300))
    assert "at least 300 ppi" in found.message
    assert "not for printing" not in found.advice


# Size: why a picture is refused


@pytest.mark.parametrize(
    ("width", "height", "spec", "words"),
    [
        # box 1600 x 1200, a pixel over allowed
        (1602, 1200, {}, "it is too wide for the 1600 x 1200 px box"),
        (1601, 1202, {}, "it is too high for the 1600 x 1200 px box"),
        (1602, 1202, {}, "it is too wide"),
        (1599, 1199, {}, "it is too small: it touches neither side"),
        # as high as the box is wide
        (1200, 1600, {}, "the long side is 1600 px"),
        (1200, 1601, {}, "at most 1200 px high"),
        (1200, 1602, {}, "it is too high"),
        (1200, 1599, {}, "it is too high"),
        (1599, 1600, {}, "the long side is 1600 px"),
        (1601, 1600, {}, "it is too high"),
        (1200, 1600, {"box": (1200, 1200)}, "it is too high for the 1200 x 1200 px box"),
        (900, 1300, {"box": (1000, 1200)}, "it is too high"),
        (1600, 1601, {"box": (1200, 1600), "overshoot": 0}, "it is too wide"),
        (1200, 1601, {"overshoot": 0}, "it is too high"),
        (1201, 630, {"box": (1200, 630), "fill": "exact"}, "asks for exactly the 1200 x 630 px box"),
    ],
)  # fmt: skip
def test_why_a_size_is_refused(width: int, height: int, spec: dict[str, Any], words: str) -> None:
    facts = changed("header", {**GOOD["header"], "width": width, "height": height, "stored": [width, height]})  # fmt: skip
    found = verdict("pixel-size", facts, trim=None, **spec)
    assert found.passed is False
    assert found.message.startswith(f"{width} x {height} px, expected ")
    assert words in found.message
    assert found.evidence["width"] == width
    assert found.evidence["height"] == height


@pytest.mark.parametrize(
    ("width", "height", "trim", "bound"),
    [(1000, 1201, "2 x 1 in", "width"), (1601, 500, "1 x 2 in", "height")],
)
def test_a_side_as_long_as_allowed_is_not_too_long(
    width: int, height: int, trim: str, bound: str
) -> None:
    """A pixel over the box is allowed: what is wrong is the side that the trim binds."""
    facts = changed("header", {**GOOD["header"], "width": width, "height": height})
    found = verdict("pixel-size", facts, trim=parse_trim(trim))
    assert f"the {bound} of the 1600 x 1200 px box must be reached" in found.message


def test_a_square_box_needs_no_turning() -> None:
    facts = changed("header", {**GOOD["header"], "width": 1000, "height": 1200})
    found = verdict("pixel-size", facts, trim=parse_trim("2 x 1 in"), box=(1200, 1200))
    assert "the width of the 1200 x 1200 px box must be reached" in found.message


@pytest.mark.parametrize(
    ("trim", "words"),
    [
        ("4 x 3 in", "for the trim of 4 x 3 in both sides of the 1600 x 1200 px box must be reached"),
        ("2 x 1 in", "for the trim of 2 x 1 in the width of the"),
        ("1 x 2 in", "for the trim of 1 x 2 in the height of the"),
    ],
)  # fmt: skip
def test_the_side_that_a_trim_binds(trim: str, words: str) -> None:
    facts = changed("header", {**GOOD["header"], "width": 500, "height": 400})
    assert words in verdict("pixel-size", facts, trim=parse_trim(trim)).message


@pytest.mark.parametrize(
    ("trim", "spec", "aim", "doubt"),
    [
        ("2 x 1 in", {}, "1600 x 800", False),
        ("1 x 2 in", {}, "600 x 1200", False),
        (None, {}, "1600 x 400", True),  # 2000 x 500 px, four to one
        (None, {"fill": "exact"}, "1600 x 1200", False),
    ],
)
def test_the_size_to_aim_at(trim: str | None, spec: dict[str, Any], aim: str, doubt: bool) -> None:
    facts = changed("header", {**GOOD["header"], "width": 2000, "height": 500})
    advice = verdict("pixel-size", facts, trim=parse_trim(trim) if trim else None, **spec).advice
    assert f"export it again at {aim} px" in advice
    assert (", if its shape is right" in advice) is doubt


@pytest.mark.parametrize(
    ("bleed", "least", "plus"),
    [("3 mm", (2551, 3578), " plus 3 mm bleed on each side"), (None, (2480, 3507), "")],
)
def test_pixels_of_a_print(bleed: str | None, least: tuple[int, int], plus: str) -> None:
    """A4 at 300 ppi: 210 / 25.4 x 300 = 2480.3, 297 / 25.4 x 300 = 3507.9; 3 mm twice add 70.9."""
    print_ = replace(SPEC.print_, bleed=parse_length(bleed) if bleed else None)  # type: ignore[type-var]
    for width, height in (least, (least[0] - 1, least[1]), (least[0], least[1] - 1)):
        facts = changed("header", {**GOOD["header"], "width": width, "height": height})
        found = verdict("print-size", facts, trim=parse_trim("A4"), print_=print_)
        assert found.passed is ((width, height) == least)
        assert f"at least {least[0]} x {least[1]} px: A4{plus}, at 300 ppi" in found.message
        assert found.evidence == {"width": width, "height": height, "least": list(least)}
