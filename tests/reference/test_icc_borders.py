"""Where the parts of an ICC profile begin and end, and its formulas at their borders (ICC.1:2022)."""

from __future__ import annotations

import struct

import numpy as np
import pytest
from profiles import SRGB_COLORANTS, assemble, fixed, gamma, localized, para, xyz

from pytest_webdeliverable.measure import icc, icc_curves, icc_profile, icc_tags
from pytest_webdeliverable.measure.icc_tags import DamagedProfileError, Tags

MATRIX = {
    **{f"{name}XYZ": xyz(color) for name, color in zip("rgb", SRGB_COLORANTS, strict=True)},
    **{f"{name}TRC": gamma(2.2) for name in "rgb"},
}


def tags(data, **places):
    return Tags(
        data=data, version=(2, 0), device_class="mntr", space="RGB ", pcs="XYZ ", places=places,
        oddities=(),
    )  # fmt: skip


def header(size, count, there=None):
    """128 bytes of header and the number of entries; ``there`` bytes in all."""
    data = bytearray(128) + struct.pack(">I", count)
    data[:4] = struct.pack(">I", size)
    data[36:40] = b"acsp"
    return bytes(data[: there or size]).ljust(there or size, b"\0")


# Tags


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (header(131, 0), "131 bytes are less than its header"),
        (header(132, 0), None),
        (header(133, 0, 132), "it says it has 133 bytes, 132 are there"),
        (header(132 + 24, 2), None),
        (header(132 + 23, 2), "it says it has 2 entries, more than it can hold"),
        (header(132 + 12 * 1024, 1024), None),
        (header(132 + 12 * 1025, 1025), "it says it has 1025 entries"),
    ],
)
def test_what_the_header_may_say(data, words):
    """128 bytes of header, 4 of the count, 12 for each entry; 1024 entries are read at most."""
    named = bytearray(data)
    for at in range((len(data) - 132) // 12):
        named[132 + 12 * at : 136 + 12 * at] = f"{at:04}".encode()
    if words is None:
        assert len(icc_tags.read_tags(bytes(named)).places) == (len(data) - 132) // 12
    else:
        with pytest.raises(DamagedProfileError, match=words):
            icc_tags.read_tags(bytes(named))


@pytest.mark.parametrize(
    ("offset", "size", "words"),
    [
        (0, 8, None),
        (0, 7, "is cut off"),
        (4, 16, "is garbled"),
        (0, 20, None),
        (0, 21, "is cut off"),
        (12, 8, "is garbled"),
        (13, 8, "is cut off"),
    ],
)
def test_where_an_element_may_lie(offset, size, words):
    """20 bytes: an element needs the 8 of its head and may reach to the last."""
    profile = tags(b"XYZ \0\0\0\0" + bytes(12), rXYZ=(offset, size))
    if words is None:
        assert len(profile.element("rXYZ", "XYZ ")) == size
    else:
        with pytest.raises(DamagedProfileError, match=words):
            profile.element("rXYZ", "XYZ ")


@pytest.mark.parametrize(
    ("length", "told"), [(4, False), (5, True)]
)  # fmt: skip
def test_an_entry_that_lies_outside_is_told(length, told):
    data = bytearray(header(132 + 12 + 4, 1))
    data[132:144] = b"abcd" + struct.pack(">II", 144, length)
    found = icc_tags.read_tags(bytes(data)).oddities
    assert any("lie outside it: abcd" in words for words in found) is told


def test_signs_that_can_be_printed():
    """ASCII from the space to the tilde."""
    assert icc_tags.signature(b"\x1f\x20\x7e\x7f") == "? ~?"


@pytest.mark.parametrize(("length", "told"), [(19, False), (20, True)])
def test_a_color_takes_twenty_bytes(length, told):
    element = xyz((0.5, 0.25, -0.125))[:length]
    if told:
        assert icc_tags.read_xyz(element) == (0.5, 0.25, -0.125)
    else:
        with pytest.raises(DamagedProfileError, match="cut off"):
            icc_tags.read_xyz(element)


# Names


@pytest.mark.parametrize(
    ("entries", "name"),
    [
        ([("de", "eins")], "eins"),
        ([("de", "eins"), ("fr", "deux")], "eins"),
        ([("de", "eins"), ("en", "two")], "two"),
        ([("en", "one"), ("en", "two")], "one"),
        ([], ""),
    ],
)
def test_the_english_name_or_else_the_first(entries, name):
    assert icc_tags._localized(localized(*entries)) == name


@pytest.mark.parametrize(("length", "name"), [(15, ""), (16, ""), (27, ""), (28, "")])
def test_a_name_that_is_cut_off_is_empty(length, name):
    """A head of 8, count and length of an entry, an entry of 12 bytes; then the words."""
    assert icc_tags._localized(localized(("en", "one"))[:length]) == name
    assert icc_tags._localized(localized(("en", "one"))[:30]) == "o"


# Formulas


@pytest.mark.parametrize(
    ("function", "parameters"),
    [
        (0, (2.2,)),
        (1, (2.2, 0.9, 0.1)),
        (1, (2.0, 1.25, -0.25)),
        (2, (2.2, 0.9, 0.05, 0.02)),
        (2, (2.0, 1.25, -0.25, 0.1)),
        (3, (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)),
        (4, (2.4, 0.9, 0.05, 0.1, 0.2, 0.03, 0.01)),
    ],
)
def test_parametric_curves_are_those_of_table_68(function, parameters):
    """Forms 0 to 4 of ICC.1:2022, 10.18, clipped to 0..1; a byte less is cut off."""
    element = para(function, *parameters)
    stored = [value / 65536 for value in struct.unpack_from(f">{len(parameters)}i", element, 12)]
    g, a, b, c, d, e, f = [*stored, 0, 0, 0, 0, 0, 0][:7]
    x = np.arange(256) / 255
    power = np.maximum(a * x + b, 0) ** g
    expected = {
        0: lambda: x**g,
        1: lambda: np.where(x >= -b / (a or 1), power, 0),
        2: lambda: np.where(x >= -b / (a or 1), power + c, c),
        3: lambda: np.where(x >= d, power, c * x),
        4: lambda: np.where(x >= d, power + e, c * x + f),
    }[function]()
    assert icc_curves.read_curve(element) == pytest.approx(list(np.clip(expected, 0, 1)), abs=1e-9)
    for length in (len(element) - 1, 12, 11):
        with pytest.raises(DamagedProfileError, match="cut off"):
            icc_curves.read_curve(element[:length])


@pytest.mark.parametrize("function", [1, 2])
def test_a_curve_may_not_divide_by_zero(function):
    element = para(function, 2.2, 0.0, 0.1, 0.0)
    with pytest.raises(DamagedProfileError, match="divides by zero"):
        icc_curves.read_curve(element)


@pytest.mark.parametrize("lightness", [0, 1, 7.9, 8, 8.1, 8.9, 9.5, 50, 100])
def test_light_of_lightness_is_that_of_cie_15(lightness):
    """Cubed above L* 8, straight below; the two meet there."""
    above = ((lightness + 16) / 116) ** 3
    expected = above if lightness > 8 else lightness * 27 / 24389
    assert icc_profile._light_of_lightness(lightness) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("version", [1, 2, 4])
def test_a_version_before_the_second_is_unknown(version):
    found = icc.profile_facts(assemble(MATRIX, version=(version, 0)))
    told = any("unknown version" in words for words in found["oddities"])
    assert told is (version < 2)


@pytest.mark.parametrize("off", [0.0098, 0.0102])
def test_primaries_that_do_not_add_up_to_white(off):
    """A hundredth is allowed; those of sRGB add up to within 0.0003."""
    colors = np.array(SRGB_COLORANTS)
    white = np.array([0.9642, 1.0, 0.8249])
    colors[1] += white - colors.sum(0)
    colors[2, 2] += off
    named = {f"{name}XYZ": xyz(color) for name, color in zip("rgb", colors, strict=True)}
    found = icc.profile_facts(assemble(MATRIX | named))
    assert any("grays get a cast" in words for words in found["oddities"]) is (off > 0.01)


# Which bytes change colors


@pytest.mark.parametrize("at", [0, 3, 4, 7, 24, 35, 40, 43, 44, 55, 64, 67, 80, 83, 84, 99])
def test_bytes_of_the_header_that_change_no_color(at):
    """Size and CMM 0..7, date 24..35, platform and flags 40..47, maker and model 48..55, intent
    64..67, creator and ID 80..99 (ICC.1:2022, table 17)."""
    data = assemble(MATRIX)
    other = bytearray(data)
    other[at] ^= 1
    assert icc._content_sha256(bytes(other)) == icc._content_sha256(data)


@pytest.mark.parametrize("at", [8, 12, 16, 23, 36, 39, 56, 63, 68, 79, 100, 127, 128, 140])
def test_bytes_of_a_profile_that_may_change_colors(at):
    """Version, class, spaces, signature, attributes, white, what is reserved, and all behind."""
    data = assemble(MATRIX)
    other = bytearray(data)
    other[at] ^= 1
    assert icc._content_sha256(bytes(other)) != icc._content_sha256(data)


def test_numbers_of_a_profile_are_rounded():
    """Primaries and their deviation to 5 decimals, that of the curve and the shift to 3."""
    colors = np.array(SRGB_COLORANTS)
    colors[0, 0] += 0.0123456
    named = {f"{name}XYZ": xyz(color) for name, color in zip("rgb", colors, strict=True)}
    found = icc.profile_facts(assemble(MATRIX | named))
    stored = struct.unpack(">i", fixed(colors[0, 0]))[0] / 65536
    assert found["colorants"]["r"][0] == round(stored, 5)
    for name, digits in (("colorant_deviation", 5), ("curve_deviation", 3), ("delta_e", 3)):
        assert found[name] == round(found[name], digits)
        assert found[name] > 0.01
