"""AVIF files made to mislead or to exhaust."""

import struct

import pytest
from header_files import AV1C, FTYP, avif, box, infe, ispe
from hostile_headers import animated, survives

from pytest_webdeliverable.measure.headers.avif import read
from pytest_webdeliverable.measure.headers.base import DamagedError


@pytest.mark.parametrize("size", [0, 1, 2, 7, 8, 9, 2**31, 2**32 - 1])
@pytest.mark.parametrize("kind", [b"ftyp", b"meta", b"iinf", b"infe", b"iloc", b"ispe", b"ipma"])
def test_wrong_box_sizes_get_an_answer(kind, size):
    data = avif()
    at = data.index(kind) - 4
    survives(read, data[:at] + struct.pack(">I", size) + data[at + 4 :])


@pytest.mark.parametrize("size", [0, 15, 16, 2**63, 2**64 - 1])
def test_sizes_in_64_bits_get_an_answer(size):
    data = avif()
    survives(read, FTYP + struct.pack(">I4sQ", 1, b"meta", size) + data[len(FTYP) + 8 :])
    survives(read, data + struct.pack(">I4sQ", 1, b"free", size))


def test_a_huge_size_is_told_without_decoding():
    header = read(avif(properties=(ispe(60_000, 60_000), AV1C)))
    assert (header.width, header.height) == (60_000, 60_000)


def test_boxes_nested_without_end():
    nested = b""
    for _ in range(2000):
        nested = box(b"meta", nested, full=0)
    survives(read, FTYP + nested)
    survives(read, avif(nested))


def test_a_million_boxes_are_refused():
    with pytest.raises(DamagedError, match="more than 200,000 parts"):
        read(avif() + box(b"free") * 1_000_000)
    with pytest.raises(DamagedError, match="more than 200,000 parts"):
        read(avif(box(b"free") * 1_000_000))


def test_places_of_no_size_are_refused():
    """Offsets and lengths of zero bytes: 65,535 x 65,535 places would fit into 400 kB."""
    row = struct.pack(">HHH", 1, 0, 65_535)
    locations = box(b"iloc", b"\0\0\xff\xff", row * 65_535, full=0)
    with pytest.raises(DamagedError, match="more than 200,000 parts"):
        read(avif(locations=locations))


def test_items_and_references_without_end():
    many = b"".join(infe(1, b"av01") for _ in range(150_000))
    with pytest.raises(DamagedError, match="parts"):
        read(avif(box(b"iinf", b"\xff\xff", many, full=0)))
    references = box(b"auxl", struct.pack(">HH", 2, 65_535), bytes(2 * 65_535))
    with pytest.raises(DamagedError, match="parts"):
        read(avif(box(b"iref", references * 20, full=0)))


def test_alpha_planes_and_references_are_not_compared_each_with_each():
    """Half of the allowed parts are alpha planes, half are references: no square of them."""
    alpha = box(b"auxC", b"urn:mpeg:mpegB:cicp:systems:auxiliary:alpha\0", full=0)
    count = 20_000
    rows = b"".join(struct.pack(">HBB", item, 1, 3) for item in range(2, count))
    table = struct.pack(">IHBBB", count - 1, 1, 2, 1, 2) + rows
    references = [box(b"auxl", struct.pack(">HHH", item, 1, 9)) for item in range(2, count)]
    data = avif(
        box(b"iprp", box(b"ipco", ispe(4, 3), AV1C, alpha), box(b"ipma", table, full=0)),
        box(b"iref", *references, full=0),
    )
    header = survives(read, data)
    assert header is not None
    assert not header.alpha


def test_the_same_bytes_as_metadata_many_times():
    """Every place of an item leads to the same megabyte."""
    infos = infe(1, b"av01"), infe(2, b"Exif")
    row = struct.pack(">HHHII", 1, 0, 1, 8, 4) + struct.pack(">HHH", 2, 0, 1000)
    places = row + struct.pack(">II", 100, 1_000_000) * 1000
    data = avif(
        box(b"iinf", b"\0\2", *infos, full=0),
        locations=box(b"iloc", b"\x44\0\0\2", places, full=0),
    )
    with pytest.raises(DamagedError, match="more than 16 MiB of metadata"):
        read(data + box(b"free", bytes(1_100_000)))


def test_items_in_an_idat_box_that_is_not_there():
    row = struct.pack(">HHHHII", 1, 1, 0, 1, 0, 6)
    data = avif(locations=box(b"iloc", b"\x44\0\0\1", row, full=1 << 24))
    assert read(data).problems == ("the file ends before the picture does",)


@pytest.mark.parametrize("each", [0, 1, 1000])
@pytest.mark.parametrize("claimed", [0, 2**31 - 1, 2**32 - 1])
def test_claimed_frames_cost_nothing(each, claimed):
    data = animated("AVIF")
    at = data.index(b"stsz") + 8
    header = survives(read, data[:at] + struct.pack(">II", each, claimed) + data[at + 8 :])
    assert header is not None
    assert (header.width, header.height) == (40, 30)
    assert header.problems if claimed else header.frames == 1


@pytest.mark.parametrize("kind", [b"tkhd", b"mdia", b"stbl", b"stsd", b"stsz", b"av01"])
def test_an_animation_without_one_of_its_boxes(kind):
    survives(read, animated("AVIF").replace(kind, b"free"))


def test_a_profile_that_is_too_large():
    profile = box(b"colr", b"prof", bytes(5_000_000))
    header = read(avif(properties=(ispe(4, 3), AV1C, profile)))
    assert (header.icc, header.icc_problem) == (None, "the color profile is larger than 4 MiB")
