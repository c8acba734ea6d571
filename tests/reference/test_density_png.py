"""Density of PNG files against the values of the PNG specification and of a second writer.

W3C PNG Third Edition (24 June 2025), pHYs: two 4-byte numbers and a unit, 0 unknown or 1 the meter.
One inch is exactly 0.0254 m, so that ppi = pixels per meter x 0.0254.
"""

import struct

import pytest
from header_files import chunk, png, saved
from PIL import Image

from pytest_webdeliverable.measure.headers import png as reader
from pytest_webdeliverable.measure.headers.base import Density

# Whole pixels per meter nearest to a density, and the density they give back:
# 72 / 0.0254 = 360000/127 = 2834.6..., stored 2835, read 2835 x 0.0254 = 72.009.
STORED = [
    (72, 2835, 72.009),
    (96, 3780, 96.012),
    (100, 3937, 99.9998),
    (150, 5906, 150.0124),
    (200, 7874, 199.9996),
    (220, 8661, 219.9894),
    (240, 9449, 240.0046),
    (250, 9843, 250.0122),
    (300, 11811, 299.9994),
    (360, 14173, 359.9942),
    (400, 15748, 399.9992),
    (600, 23622, 599.9988),
    (1200, 47244, 1199.9976),
]


def density(x, y, unit):
    return reader.read(png(chunk(b"pHYs", struct.pack(">IIB", x, y, unit)))).densities


@pytest.mark.parametrize(("asked", "per_meter", "read_back"), STORED)
def test_pixels_per_meter(asked, per_meter, read_back):
    assert round(asked / 0.0254) == per_meter
    (found,) = density(per_meter, per_meter, 1)
    assert found.place == "pHYs"
    assert (found.x, found.y) == pytest.approx((read_back, read_back), abs=1e-9)


@pytest.mark.parametrize(("asked", "per_meter", "read_back"), STORED)
def test_what_pillow_stores(asked, per_meter, read_back):
    (found,) = reader.read(saved(Image.new("L", (4, 3)), "PNG", dpi=(asked, asked))).densities
    assert (found.x, found.y) == pytest.approx((read_back, read_back), abs=1e-9)


def test_the_axes_may_differ():
    (found,) = density(2835, 11811, 1)
    assert (found.x, found.y) == pytest.approx((72.009, 299.9994))


@pytest.mark.parametrize(("x", "y", "unit"), [(1, 1, 0), (2835, 2835, 0), (0, 0, 1), (72, 72, 2)])
def test_aspect_zero_and_unknown_units_state_no_density(x, y, unit):
    assert density(x, y, unit) == (Density(place="pHYs", x=None, y=None),)


def test_no_chunk_no_density():
    assert reader.read(png()).densities == ()


@pytest.mark.parametrize("name", ["GIF", "WEBP", "AVIF"])
def test_formats_without_a_place_for_it(name):
    """RFC 9649, AVIF v1 and GIF89a have no such field; Pillow drops ``dpi`` in silence."""
    from pytest_webdeliverable.measure.headers import read_header

    data = saved(Image.new("RGB", (4, 3)), name, dpi=(300, 300))
    assert read_header(data).densities == ()
