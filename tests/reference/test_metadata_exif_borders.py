"""Exif exactly at each documented limit, and one beyond it; and values at the end of the data."""

from __future__ import annotations

import struct

import pytest
from metadata_files import field, header, tiff

from pytest_webdeliverable.measure.limits import Limits
from pytest_webdeliverable.measure.metadata import all_densities
from pytest_webdeliverable.measure.metadata.directories import decode
from pytest_webdeliverable.measure.metadata.exif import read_exif

MORE = "the Exif data hold more directory entries than are read"


def read(data, **limits):
    return read_exif(data, Limits(**limits))


# Directories


@pytest.mark.parametrize(("allowed", "number"), [(8, 6), (7, 6), (6, 5), (5, 4), (2, 1)])
def test_as_many_entries_as_allowed_are_read(allowed, number):
    """Six entries; a directory counts as one more, so that empty ones cost something too.

    Where nothing is left at the end, it is not known whether more follows.
    """
    found = read(tiff([dict.fromkeys(range(0x100, 0x106), (3, 1))]), ifd_entries=allowed)
    assert len(found.ifd0) == number
    assert found.problems == (() if allowed == 8 else (MORE,))


def test_empty_directories_use_up_what_is_allowed():
    data = tiff([{}] * 4)
    assert read(data, ifd_entries=5).problems == ()
    assert read(data, ifd_entries=4).problems == (MORE,)


def test_entries_of_all_directories_count():
    """Two in the first (one is the pointer), three in the second, two directories: 7."""
    data = tiff([{0x100: (3, 1)}], pointers={0x8769: dict.fromkeys((1, 2, 3), (3, 1))})
    assert len(read(data, ifd_entries=8).exif) == 3
    assert read(data, ifd_entries=8).problems == ()
    assert len(read(data, ifd_entries=6).exif) == 2
    assert read(data, ifd_entries=6).problems == (MORE,)


def test_the_first_directory_of_a_kind_to_state_a_tag_counts():
    """Sub-directories in a row: 0x014A may hold several offsets (TIFF 6.0, supplement 1)."""
    one, other = (
        struct.pack("<H", 1) + struct.pack("<HHI4s", 0x0131, 2, 4, text) + bytes(4)
        for text in (b"one\0", b"two\0")
    )
    start = len(tiff([{0x014A: (4, [0, 0])}]))
    data = tiff([{0x014A: (4, [start, start + len(one)])}]) + one + other
    assert read(data).more == {0x0131: "one"}
    assert read(data).problems == ()


@pytest.mark.parametrize(("number", "kept"), [(64, True), (65, False)])
def test_numbers_of_one_entry(number, kept):
    assert (0x200 in read(tiff([{0x200: (3, [7] * number)}])).ifd0) == kept


def test_an_entry_without_values_is_left_out():
    assert read(tiff([{0x200: (3, []), 0x112: (3, 6)}])).ifd0 == {0x112: 6}


@pytest.mark.parametrize(("allowed", "kept"), [(12, 2), (11, 1)])
def test_values_of_bytes_share_what_is_allowed(allowed, kept):
    found = read(tiff([{1: (2, b"a" * 6), 2: (2, b"b" * 6)}]), metadata_bytes=allowed)
    assert len(found.ifd0) == kept
    text = "the Exif values take more memory than is read"
    assert found.problems == (() if kept == 2 else (text,))


@pytest.mark.parametrize(
    ("kind", "values", "size"),
    [(1, b"\1\2\3\4", 1), (3, [1, 2], 2), (4, 5, 4), (5, [1, 2], 8), (12, 0.5, 8), (11, 0.5, 4)],
)
def test_a_value_at_the_end_of_the_data(kind, values, size):
    """Whole where it ends with the data; short by a byte it loses its last number, and is told."""
    _, count, raw = field("<", kind, values)
    more = raw * (2 if len(raw) <= 4 else 1)
    data = b"II*\0\x08\0\0\0" + struct.pack("<HHHII", 1, 0x1001, kind, len(more) // size, 26)
    data += bytes(4) + more
    whole = read(data)
    assert whole.problems == ()
    assert 0x1001 in whole.ifd0
    cut = read(data[:-1])
    assert cut.problems == ("an Exif value reaches beyond the end of the data",)
    if kind == 1:
        assert cut.ifd0[0x1001] == b"\1\2\3\4\1\2\3"
    assert count


def test_a_directory_at_the_end_of_the_data():
    data = tiff([{0x112: (3, 6)}])
    assert read(data[:-4]).ifd0 == {0x112: 6}  # no room for the offset of a next one: none
    assert read(data[:-4]).problems == ()
    assert read(data[:-5]).problems == ("an Exif directory is cut off",)
    assert read(data[:9]).problems == ("an Exif directory lies beyond the end of the data",)
    assert read(data[:10]).problems == ("an Exif directory is cut off",)


@pytest.mark.parametrize(
    ("start", "problem"),
    [
        (b"XX*\0\x08\0\0\0", "the Exif data do not start with a byte-order mark"),
        (b"II*\0\0\0\0\0", "the Exif data hold no directory"),
        (b"II*\0", "the Exif data hold no directory"),
        (b"II\x2a\x01\x08\0\0\0\0\0\0\0\0\0", "the Exif data do not carry the number 42 that marks them"),
        (b"", "the Exif data do not start with a byte-order mark"),
    ],
)  # fmt: skip
def test_what_is_no_start(start, problem):
    found = read(start)
    assert found.problems == (problem,)
    assert found.ifd0 == {}


def test_a_directory_that_follows_itself_is_a_loop():
    data = tiff([{0x112: (3, 6)}])
    found = read(data[:-4] + struct.pack("<I", 8))
    assert found.problems == ("the Exif directories point at each other in a loop",)
    assert found.ifd0 == {0x112: 6}
    # One place may serve as two kinds, as some writers do.
    start = len(tiff([{0x8769: (4, 0), 0xA005: (4, 0)}]))
    shared = tiff([{0x8769: (4, start), 0xA005: (4, start)}]) + struct.pack("<HI", 0, 0)
    assert read(shared).problems == ()


def test_types_that_do_not_exist():
    for kind in (0, 14, 15, 19, 130):
        data = b"II*\0\x08\0\0\0" + struct.pack("<HHHII", 1, 0x1001, kind, 1, 7) + bytes(4)
        assert read(data).problems == ("an Exif entry has a value type that does not exist",)


@pytest.mark.parametrize(("kind", "value"), [(13, 7), (129, "é"), (4, 7)])
def test_offsets_and_utf_8_of_exif_3(kind, value):
    raw = "é\0".encode() if kind == 129 else struct.pack("<I", value)
    count = len(raw) if kind == 129 else 1
    data = b"II*\0\x08\0\0\0" + struct.pack("<HHHI4s", 1, 0x1001, kind, count, raw) + bytes(4)
    assert read(data).ifd0 == {0x1001: value}


def big(entries, order="<"):
    """The 64-bit form: number 43, offsets of 8 bytes, counts of 8 bytes, values of 8 in place."""
    out = (b"II" if order == "<" else b"MM") + struct.pack(order + "HHHQ", 43, 8, 0, 16)
    out += struct.pack(order + "Q", len(entries))
    for tag, kind, letter, values in entries:
        raw = struct.pack(f"{order}{len(values)}{letter}", *values).ljust(8, b"\0")
        out += struct.pack(order + "HHQ", tag, kind, len(values)) + raw
    return out + struct.pack(order + "Q", 0)


@pytest.mark.parametrize("order", ["<", ">"])
def test_values_of_the_64_bit_form(order):
    entries = [
        (1, 16, "Q", [2**40]),
        (2, 17, "q", [-3]),
        (3, 18, "Q", [9]),
        (4, 3, "H", [1, 2, 3, 4]),
    ]
    found = read(big(entries, order))
    assert found.ifd0 == {1: 2**40, 2: -3, 3: 9, 4: (1, 2, 3, 4)}
    assert found.problems == ()


def pointing(kind, value):
    """One entry of a given type that points at a place directory behind it (TIFF 6.0, section 2)."""
    entry = struct.pack("<HHI", 0x8825, kind, 1) + value
    place = struct.pack("<HHHI4sI", 1, 1, 2, 2, b"N\0\0\0", 0)
    return b"II*\0\x08\0\0\0\1\0" + entry + bytes(4) + place


@pytest.mark.parametrize("kind", [0, 1, 2, 4, 7, 9, 11, 13, 99])
def test_a_pointer_of_any_type_is_followed(kind):
    """Readers that take the four bytes for an offset whatever the type says find the place."""
    assert read(pointing(kind, struct.pack("<I", 26))).gps == {1: "N"}


@pytest.mark.parametrize("kind", [4, 7])
def test_a_pointer_of_0_points_at_nothing(kind):
    assert read(pointing(kind, bytes(4))).gps is None


def test_a_pointer_to_the_left_of_the_start_points_at_nothing():
    assert read(pointing(9, struct.pack("<i", -1))).gps is None


def test_the_second_of_two_pointers_is_followed_too():
    entries = struct.pack("<HHIIHHII", 0x8825, 4, 1, 0, 0x8825, 4, 1, 38)
    place = struct.pack("<HHHI4sI", 1, 1, 2, 2, b"N\0\0\0", 0)
    data = b"II*\0\x08\0\0\0\2\0" + entries + bytes(4) + place
    assert read(data).gps == {1: "N"}


def test_text_of_an_unstated_encoding():
    assert decode("é".encode()) == "é"
    assert decode(b"\xe9") == "é"


# The preview of the second directory


@pytest.mark.parametrize(("start", "length", "found"), [(0, 3, None), (-1, 3, None), (2, 0, None)])
def test_a_preview_needs_a_place_and_a_length(start, length, found):
    assert read(tiff([{}, {0x0201: (9, start), 0x0202: (9, length)}])).thumbnail is found


def test_a_preview_that_ends_with_the_data():
    data = tiff([{}, {0x0201: (4, "tail"), 0x0202: (4, 5)}], tail=b"12345")
    assert read(data).thumbnail == b"12345"
    assert read(data).problems == ()
    short = tiff([{}, {0x0201: (4, "tail"), 0x0202: (4, 6)}], tail=b"12345")
    assert read(short).thumbnail == b"12345"
    assert read(short).problems == ("the Exif preview reaches beyond the end of the Exif data",)


@pytest.mark.parametrize(
    ("changed", "there"),
    [({}, True), ({0x0103: (3, 6)}, False), ({0x0106: (3, 6)}, False), ({0x0100: (3, 3)}, False),
     ({0x0101: (3, 0)}, False), ({0x0101: (3, 1)}, True)],
)  # fmt: skip
def test_a_preview_of_plain_bytes(changed, there):
    """Two by two pixels of three bytes, which end with the data."""
    entries = {0x0100: (3, 2), 0x0101: (3, 2), 0x0103: (3, 1), 0x0106: (3, 2), 0x0111: (4, "tail")}
    found = read(tiff([{}, entries | changed], tail=b"rgbRGBrgbRGB")).thumbnail
    rows = 1 if 0x0101 in changed else 2
    assert found == (b"P6 2 %d 255\n" % rows + b"rgbRGB" * rows if there else None)


@pytest.mark.parametrize(
    ("unit", "x"), [(1, None), (2, 300.0), (3, 762.0), (4, None), (None, 300.0)]
)
def test_densities_by_unit(unit, x):
    """ResolutionUnit 2 is the inch, 3 the centimeter: 300 a centimeter are 762 an inch."""
    entries = {0x011A: (5, [300, 1]), 0x011B: (5, [300, 0])}
    found = read(tiff([entries | ({} if unit is None else {0x0128: (3, unit)})])).density
    assert found.x == pytest.approx(x) if x else found.x is None
    assert found.y is None


def test_the_density_of_a_tiff_file_is_its_containers():
    exif = read(tiff([{0x011A: (5, [72, 1]), 0x011B: (5, [72, 1])}]))
    assert len(all_densities(header(form="tiff"), exif)) == 0
    assert len(all_densities(header(form="jpeg"), exif)) == 1
    assert all_densities(header(), read(tiff([{}]))) == []
