"""JFIF density against ITU-T T.871 (values of shared reference, density) and what Pillow writes."""

from __future__ import annotations

import struct

import pytest
from jpegs import noise, saved, segment, with_segments

from pytest_webdeliverable.measure.headers.base import Density
from pytest_webdeliverable.measure.headers.jpeg import read


def with_density(units: int, x: int, y: int) -> bytes:
    data = saved()
    (length,) = struct.unpack_from(">H", data, 4)
    body = b"JFIF\0" + struct.pack(">HBHHBB", 0x0102, units, x, y, 0, 0)
    return data[:2] + segment(0xE0, body) + data[4 + length :]


# T.871 10.1: units 0 states an aspect ratio only, 1 dots per inch, 2 dots per cm. 1 in = 2.54 cm.
@pytest.mark.parametrize(
    ("units", "stored", "ppi"),
    [
        (1, 72, 72.0),
        (1, 300, 300.0),
        (2, 118, 299.72),
        (2, 28, 71.12),
        (0, 72, None),
        (3, 72, None),  # reserved
        (1, 0, None),  # "shall be non-zero"
    ],
)
def test_density(units: int, stored: int, ppi: float | None) -> None:
    (density,) = read(with_density(units, stored, stored)).densities
    assert density.place == "JFIF"
    if ppi is None:
        assert density == Density(place="JFIF", x=None, y=None)
    else:
        assert (density.x, density.y) == (pytest.approx(ppi), pytest.approx(ppi))


def test_axes_may_differ() -> None:
    assert read(with_density(1, 72, 96)).densities == (Density(place="JFIF", x=72.0, y=96.0),)


# Shared reference, density, Pillow's behavior: 72.6 is stored as 73 and 72.009 as 72.
@pytest.mark.parametrize(("asked", "stored"), [(72, 72), (300, 300), (72.6, 73), (72.009, 72)])
def test_density_written_by_pillow(asked: float, stored: int) -> None:
    expected = Density(place="JFIF", x=float(stored), y=float(stored))
    assert read(saved(dpi=(asked, asked))).densities == (expected,)


def test_no_density_asked_is_an_aspect_ratio() -> None:
    # libjpeg's default is units 0, 1:1.
    assert read(saved()).densities == (Density(place="JFIF", x=None, y=None),)


def test_cmyk_of_libjpeg_has_no_jfif_density() -> None:
    # Shared reference, jpeg_tables: APP14 only.
    assert read(saved(noise("CMYK"))).densities == ()


def test_cut_jfif_segment() -> None:
    data = saved(noise("CMYK"))
    header = read(with_segments(data, segment(0xE0, b"JFIF\0\1")))
    assert header.densities == ()
    assert header.problems == ("the JFIF segment is incomplete",)
