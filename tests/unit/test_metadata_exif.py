"""Exif directories written byte by byte and read back."""

import struct

import pytest
from metadata_files import tiff

from pytest_webdeliverable.measure.headers.base import Density
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS
from pytest_webdeliverable.measure.metadata.directories import Rational
from pytest_webdeliverable.measure.metadata.exif import read_exif


def read(data):
    return read_exif(data, DEFAULT_LIMITS)


@pytest.mark.parametrize("order", ["<", ">"])
def test_values_of_every_type_are_plain(order):
    exif = read(
        tiff(
            [
                {
                    0x0132: (2, b"2026:01:02 03:04:05\0"),
                    0x0112: (3, 6),
                    0x0100: (4, 4000),
                    0x011A: (5, [300, 1]),
                    0x1001: (1, b"\x07"),
                    0x1002: (6, b"\xff"),
                    0x1003: (7, b"\x01\x02\x03\x04\x05"),
                    0x1004: (8, [-1, 2]),
                    0x1005: (9, -70000),
                    0x1006: (10, [-1, 3, 1, 2]),
                    0x1007: (11, 0.5),
                    0x1008: (12, 0.25),
                    0x1009: (7, b"\x05"),
                }
            ],
            order=order,
        )
    )
    assert exif.problems == ()
    assert exif.ifd0 == {
        0x0132: "2026:01:02 03:04:05",
        0x0112: 6,
        0x0100: 4000,
        0x011A: Rational(300, 1),
        0x1001: 7,
        0x1002: -1,
        0x1003: b"\x01\x02\x03\x04\x05",
        0x1004: (-1, 2),
        0x1005: -70000,
        0x1006: (Rational(-1, 3), Rational(1, 2)),
        0x1007: 0.5,
        0x1008: 0.25,
        0x1009: b"\x05",
    }


def test_directories_are_kept_apart():
    exif = read(
        tiff(
            [{0x010F: (2, b"Maker\0")}, {0x0103: (3, 6)}, {0x0131: (2, b"page 3\0")}],
            pointers={0x8769: {0xA431: (2, b"77\0")}, 0x8825: {0: (1, b"\2\3\0\0")}},
        )
    )
    assert exif.ifd0[0x010F] == "Maker"
    assert exif.ifd1 == {0x0103: 6}
    assert exif.more == {0x0131: "page 3"}
    assert exif.exif == {0xA431: "77"}
    assert exif.gps == {0: b"\2\3\0\0"}
    assert exif.interop == {}


def test_a_pointer_of_zero_announces_no_gps_directory():
    assert read(tiff([{0x8825: (4, 0)}])).gps is None


def test_an_announced_gps_directory_that_cannot_be_read_is_there_and_empty():
    exif = read(tiff([{0x8825: (4, 5_000_000)}]))
    assert exif.gps == {}
    assert exif.problems == ("an Exif directory lies beyond the end of the data",)


def test_the_marker_of_a_jpeg_segment_is_skipped():
    assert read(b"Exif\0\0" + tiff([{0x0112: (3, 3)}])).orientation == 3


def test_the_64_bit_form_is_read():
    entry = struct.pack("<HHQHHHH", 0x0112, 3, 1, 8, 0, 0, 0)
    data = b"II" + struct.pack("<HHHQ", 43, 8, 0, 16) + struct.pack("<Q", 1) + entry + b"\0" * 8
    exif = read(data)
    assert exif.orientation == 8
    assert exif.problems == ()


@pytest.mark.parametrize("value", [1, 8])
def test_orientation_in_range(value):
    assert read(tiff([{0x0112: (3, value)}])).orientation == value


@pytest.mark.parametrize("entry", [(3, 0), (3, 9), (2, b"6\0"), (3, [6, 6])])
def test_orientation_out_of_range_is_none(entry):
    assert read(tiff([{0x0112: entry}])).orientation is None


# DC-008: ResolutionUnit 2 is inch and the default, 3 is centimeter; 118.11 px/cm are 300 px/inch.
@pytest.mark.parametrize(
    ("entries", "x", "y"),
    [
        ({0x011A: (5, [300, 1]), 0x011B: (5, [300, 1])}, 300, 300),
        ({0x011A: (5, [72, 1]), 0x011B: (5, [144, 2]), 0x0128: (3, 2)}, 72, 72),
        ({0x011A: (5, [11811, 100]), 0x011B: (5, [11811, 100]), 0x0128: (3, 3)}, 300, 300),
        ({0x011A: (5, [300, 1]), 0x011B: (5, [300, 1]), 0x0128: (3, 1)}, None, None),
        ({0x011A: (5, [300, 1]), 0x011B: (5, [300, 1]), 0x0128: (3, 9)}, None, None),
        ({0x011A: (5, [0, 0]), 0x011B: (5, [0, 0])}, None, None),
        ({0x011A: (5, [0, 1]), 0x011B: (5, [300, 0])}, None, None),
        ({0x011A: (5, [300, 1])}, 300, None),
        ({0x011A: (3, 96), 0x011B: (11, float("inf"))}, 96, None),
        ({0x011A: (2, b"300\0"), 0x011B: (10, [-300, 1])}, None, None),
        ({0x011A: (5, [1, 1, 2, 1]), 0x011B: (5, [300, 1])}, None, 300),
    ],
)
def test_density(entries, x, y):
    density = read(tiff([entries])).density
    assert density is not None
    assert density.place == "Exif"
    assert density.x == pytest.approx(x, abs=0.001)
    assert density.y == pytest.approx(y, abs=0.001)


def test_no_resolution_tag_is_no_density():
    assert read(tiff([{0x0128: (3, 2)}])).density is None


def test_density_is_the_container_type():
    assert isinstance(read(tiff([{0x011A: (5, [72, 1])}])).density, Density)


def test_the_thumbnail_is_cut_at_the_end_of_the_data():
    picture = b"\xff\xd8picture\xff\xd9"
    whole = read(tiff([{}, {0x0201: (4, "tail"), 0x0202: (4, len(picture))}], tail=picture))
    assert whole.thumbnail == picture
    assert whole.problems == ()
    cut = read(tiff([{}, {0x0201: (4, "tail"), 0x0202: (4, 5000)}], tail=picture))
    assert cut.thumbnail == picture
    assert cut.problems == ("the Exif preview reaches beyond the end of the Exif data",)


@pytest.mark.parametrize(
    "entries",
    [
        {0x0201: (4, 0), 0x0202: (4, 100)},
        {0x0201: (4, "tail"), 0x0202: (4, 0)},
        {0x0201: (4, 10_000_000), 0x0202: (4, 100)},
        {0x0201: (4, "tail")},
    ],
)
def test_no_thumbnail(entries):
    assert read(tiff([{}, entries], tail=b"abc")).thumbnail is None


def test_an_uncompressed_thumbnail_becomes_a_ppm():
    entries = {
        0x0100: (3, 2),
        0x0101: (3, 1),
        0x0103: (3, 1),
        0x0106: (3, 2),
        0x0111: (4, "tail"),
    }
    assert read(tiff([{}, entries], tail=b"rgbRGB")).thumbnail == b"P6 2 1 255\nrgbRGB"
    assert read(tiff([{}, entries], tail=b"rgb")).thumbnail is None
    assert read(tiff([{}, entries | {0x0100: (3, 0)}], tail=b"rgbRGB")).thumbnail is None
    assert read(tiff([{}, entries | {0x0100: (2, b"2\0")}], tail=b"rgbRGB")).thumbnail is None
    assert read(tiff([{}, entries | {0x0106: (3, 6)}], tail=b"rgbRGB")).thumbnail is None


def test_text_that_is_not_utf8_is_read_as_latin1():
    assert read(tiff([{0x013B: (2, b"Zo\xeb\0")}])).ifd0[0x013B] == "Zoë"
    assert read(tiff([{0x013B: (2, "Zoë\0".encode())}])).ifd0[0x013B] == "Zoë"


def test_packets_in_tags_stay_bytes():
    exif = read(tiff([{0x02BC: (2, b"<x/>\0\0"), 0x83BB: (4, [1, 2, 3])}]))
    assert exif.ifd0[0x02BC] == b"<x/>\0\0"
    assert exif.ifd0[0x83BB] == struct.pack("<3I", 1, 2, 3)


def test_long_tables_are_left_out_without_a_problem():
    exif = read(tiff([{0x0111: (4, list(range(500))), 0x0112: (3, 1)}]))
    assert exif.ifd0 == {0x0112: 1}
    assert exif.problems == ()
