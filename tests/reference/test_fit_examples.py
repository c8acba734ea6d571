"""Sizes in a box against worked examples.

Source: exact rational arithmetic on ISO 216:2007, ASME Y14.1 and common print sizes in a box of
1600 x 1200 px, scale = min(1600 / w, 1200 / h); floor and ceil of each side. Checked beside it: what
Pillow's ImageOps.contain gives for a large original of that shape.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from PIL import Image, ImageOps

from pytest_webdeliverable.fit import Range, expected_size, largest_print, print_pixels
from pytest_webdeliverable.manifest.model import Print, Spec
from pytest_webdeliverable.manifest.quantities import PAPERS, Trim, parse_length, parse_trim

# trim, exact width, exact height in the box
CASES = [
    ("A0 portrait", "34800/41", "1200"),
    ("A0 landscape", "1600", "46400/41"),
    ("A1 portrait", "712800/841", "1200"),
    ("A1 landscape", "1600", "950400/841"),
    ("A2 portrait", "28000/33", "1200"),
    ("A2 landscape", "1600", "112000/99"),
    ("A3 portrait", "5940/7", "1200"),
    ("A3 landscape", "1600", "7920/7"),
    ("A4 portrait", "28000/33", "1200"),
    ("A4 landscape", "1600", "112000/99"),
    ("A5 portrait", "5920/7", "1200"),
    ("A5 landscape", "1600", "23680/21"),
    ("A6 portrait", "31500/37", "1200"),
    ("A6 landscape", "1600", "42000/37"),
    ("A7 portrait", "5920/7", "1200"),
    ("A7 landscape", "1600", "23680/21"),
    ("A8 portrait", "31200/37", "1200"),
    ("A8 landscape", "1600", "41600/37"),
    ("B4 portrait", "300000/353", "1200"),
    ("B4 landscape", "1600", "400000/353"),
    ("Letter portrait", "10200/11", "1200"),
    ("Letter landscape", "26400/17", "1200"),
    ("Legal portrait", "5100/7", "1200"),
    ("Legal landscape", "1600", "6800/7"),
    ("11 x 17 in", "13200/17", "1200"),
    ("17 x 11 in", "1600", "17600/17"),
    ("18 x 24 in", "900", "1200"),
    ("24 x 18 in", "1600", "1200"),
    ("24 x 36 in", "800", "1200"),
    ("36 x 24 in", "1600", "3200/3"),
    ("5 x 7 in", "6000/7", "1200"),
    ("7 x 5 in", "1600", "8000/7"),
    ("4 x 6 in", "800", "1200"),
    ("6 x 4 in", "1600", "3200/3"),
    ("8 x 10 in", "960", "1200"),
    ("10 x 8 in", "1500", "1200"),
    ("1 x 1 cm", "1200", "1200"),
    ("4 x 3 cm", "1600", "1200"),
    ("3 x 4 cm", "900", "1200"),
    ("3 x 2 cm", "1600", "3200/3"),
    ("2 x 3 cm", "800", "1200"),
    ("4 x 5 cm", "960", "1200"),
    ("16 x 9 px", "1600", "900"),
    ("9 x 16 px", "675", "1200"),
    ("1.91 x 1 px", "1600", "160000/191"),
    ("1200 x 630 px", "1600", "840"),
    ("21 x 9 px", "1600", "4800/7"),
]

SCREEN = Spec(box=(1600, 1200))


def trim(text: str) -> Trim:
    read = parse_trim(text)
    assert read is not None
    return read


@pytest.mark.parametrize(("text", "width", "height"), CASES)
def test_touching_size_follows_the_trim(text: str, width: str, height: str) -> None:
    across, down = Fraction(width), Fraction(height)
    expected = expected_size(SCREEN, trim(text))
    assert expected is not None
    ((widths, heights),) = expected.choices
    assert widths == Range(across.__floor__(), across.__ceil__() + 1)
    assert heights == Range(down.__floor__(), down.__ceil__() + 1)
    bound = {(True, True): "both", (True, False): "width", (False, True): "height"}
    assert expected.binds == bound[across == 1600, down == 1200]


@pytest.mark.parametrize("text", [case[0] for case in CASES])
def test_what_pillow_makes_of_the_original_is_accepted(text: str) -> None:
    read = trim(text)
    scale = 6000 / max(read.width, read.height)
    original = Image.new("1", (round(read.width * scale), round(read.height * scale)))
    size = ImageOps.contain(original, (1600, 1200)).size
    expected = expected_size(SCREEN, read)
    assert expected is not None
    assert expected.accepts(*size)
    assert not expected.accepts(size[0] - 3, size[1])
    assert not expected.accepts(size[0], size[1] + 3)


# ISO 216:2007, millimeters, portrait
ISO_216 = {
    "A0": (841, 1189), "A1": (594, 841), "A2": (420, 594), "A3": (297, 420), "A4": (210, 297),
    "A5": (148, 210), "A6": (105, 148), "A7": (74, 105), "A8": (52, 74),
    "B0": (1000, 1414), "B1": (707, 1000), "B2": (500, 707), "B3": (353, 500), "B4": (250, 353),
    "B5": (176, 250), "B6": (125, 176), "B7": (88, 125), "B8": (62, 88),
}  # fmt: skip


@pytest.mark.parametrize(("name", "size"), ISO_216.items())
def test_paper_sizes_are_those_of_iso_216(name: str, size: tuple[int, int]) -> None:
    read = trim(name)
    assert (read.width, read.height, read.unit) == (*size, "mm")
    turned = trim(f"{name} landscape")
    assert (turned.width, turned.height) == size[::-1]


@pytest.mark.parametrize("letter", ["A", "B"])
@pytest.mark.parametrize("number", range(9))
def test_paper_sizes_follow_the_closed_formula(letter: str, number: int) -> None:
    """The formulas are from the reference on paper sizes: A: 2^((2n-1)/4), B: 2^((n-1)/2)."""
    exponent = (lambda n: (2 * n - 1) / 4) if letter == "A" else (lambda n: (n - 1) / 2)
    short, long, _ = PAPERS[f"{letter}{number}"]
    assert long == int(1000 / 2 ** exponent(number) + 0.2)
    assert short == int(1000 / 2 ** exponent(number + 1) + 0.2)


def test_american_sizes_are_those_in_common_use() -> None:
    """Common practice, no source: Letter, Legal, Tabloid in inches."""
    sizes = {name: trim(name).inches for name in ("Letter", "Legal", "Tabloid")}
    assert sizes == {
        "Letter": (Fraction(17, 2), 11),
        "Legal": (Fraction(17, 2), 14),
        "Tabloid": (11, 17),
    }


# trim, bleed, pixels at 300 ppi: length in inches x 300, 25.4 mm to the inch exactly
PRINTS = [
    ("A4", "3 mm", "324000/127", "454500/127"),
    ("A3", "3 mm", "454500/127", "639000/127"),
    ("A5", "3 mm", "231000/127", "324000/127"),
    ("A6", "3 mm", "166500/127", "231000/127"),
    ("11 x 17 in", "0.125 in", "3375", "5175"),
    ("Letter", "0.125 in", "2625", "3375"),
    ("18 x 24 in", "0.125 in", "5475", "7275"),
    ("24 x 36 in", "0.125 in", "7275", "10875"),
]


@pytest.mark.parametrize(("text", "bleed", "width", "height"), PRINTS)
def test_print_pixels_at_trim_plus_bleed(text: str, bleed: str, width: str, height: str) -> None:
    wanted = Print(ppi=300, bleed=parse_length(bleed))
    assert print_pixels(wanted, trim(text)) == (Fraction(width), Fraction(height))


def test_largest_print_of_a_web_copy() -> None:
    """1600 x 1200 px at 300 ppi are 16/3 x 4 in, 135.5 x 101.6 mm (25.4 mm to the inch)."""
    assert largest_print(1600, 1200) == "5.3 x 4.0 in (13.5 x 10.2 cm) at 300 ppi"
