"""Density of TIFF files against TIFF 6.0 and a second writer.

TIFF 6.0 section 8: XResolution (282) and YResolution (283) are fractions per ResolutionUnit (296),
1 none, 2 inch, 3 centimeter; default 2. One inch is exactly 2.54 cm.
"""

import pytest
from header_files import saved
from metadata_files import tiff
from PIL import Image

from pytest_webdeliverable.measure.headers import tiff as reader
from pytest_webdeliverable.measure.headers.base import Density

SHORT, LONG, FRACTION, FLOAT = 3, 4, 5, 11
PICTURE = {256: (SHORT, 1), 257: (SHORT, 1), 258: (SHORT, 8), 262: (SHORT, 1)}
PICTURE |= {273: (LONG, 8), 279: (LONG, 1)}
NONE, INCH, CENTIMETER = 1, 2, 3


def densities(order="<", **fields):
    names = {"x": 282, "y": 283, "unit": 296}
    directory = PICTURE | {names[name]: value for name, value in fields.items()}
    header = reader.read(tiff([directory], order=order))
    assert header.problems == ()
    return header.densities


def stated(x, y):
    return (Density(place="TIFF", x=x, y=y),)


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize(
    ("fraction", "unit", "ppi"),
    [
        ([72, 1], INCH, 72.0),
        ([720_000, 10_000], INCH, 72.0),
        ([300, 1], INCH, 300.0),
        ([2_999_994, 10_000], INCH, 299.9994),
        ([11_811, 100], CENTIMETER, 299.9994),
        ([118, 1], CENTIMETER, 299.72),
        ([28, 1], CENTIMETER, 71.12),
        ([4_294_967_295, 1], INCH, 4_294_967_295.0),
    ],
)
def test_fractions_and_units(order, fraction, unit, ppi):
    found = densities(order, x=(FRACTION, fraction), y=(FRACTION, fraction), unit=(SHORT, unit))
    assert (found[0].x, found[0].y) == pytest.approx((ppi, ppi))


def test_the_inch_is_meant_where_no_unit_is_stated():
    assert densities(x=(FRACTION, [300, 1]), y=(FRACTION, [150, 1])) == stated(300.0, 150.0)


@pytest.mark.parametrize("unit", [NONE, 0, 4])
def test_no_unit_states_no_density(unit):
    value = (FRACTION, [300, 1])
    assert densities(x=value, y=value, unit=(SHORT, unit)) == stated(None, None)


@pytest.mark.parametrize("fraction", [[0, 0], [0, 1], [300, 0]])
def test_fractions_that_are_no_density(fraction):
    assert densities(x=(FRACTION, fraction), y=(FRACTION, [300, 1])) == stated(None, 300.0)


def test_a_fraction_that_lies_outside_the_file():
    data = bytearray(tiff([PICTURE | {282: (FRACTION, [300, 1])}]))
    at = data.index(b"\x1a\x01\x05\x00")
    data[at + 8 : at + 12] = b"\xff\xff\xff\x7f"
    header = reader.read(bytes(data))
    assert header.densities == stated(None, None)
    assert header.problems == ("the file ends before the picture does",)


def test_one_axis_alone():
    assert densities(x=(FRACTION, [300, 1])) == stated(300.0, None)


def test_nothing_is_invented():
    """Pillow reports 1 for such a file."""
    assert densities() == ()
    assert densities(unit=(SHORT, INCH)) == ()


def test_floats_as_some_writers_store_them():
    value = (FLOAT, 299.5)
    assert densities(x=value, y=value) == stated(299.5, 299.5)
    endless = (FLOAT, float("inf"))
    assert densities(x=endless, y=value) == stated(None, 299.5)


@pytest.mark.parametrize("big", [False, True])
@pytest.mark.parametrize("asked", [72, 96, 118.11, 299.9994, 300, 1200])
def test_what_pillow_stores(asked, big):
    data = saved(Image.new("L", (4, 3)), "TIFF", dpi=(asked, asked), big_tiff=big)
    (found,) = reader.read(data).densities
    assert (found.x, found.y) == pytest.approx((asked, asked), rel=1e-6)


@pytest.mark.parametrize("asked", [11.811, 47.244])
def test_centimeters_as_pillow_stores_them(asked):
    data = saved(Image.new("L", (4, 3)), "TIFF", resolution_unit="cm", resolution=asked)
    (found,) = reader.read(data).densities
    assert (found.x, found.y) == pytest.approx((asked * 2.54, asked * 2.54), rel=1e-5)
