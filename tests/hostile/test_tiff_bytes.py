"""TIFF files made to mislead or to exhaust."""

import struct

import pytest
from hostile_headers import refused, survives

from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.tiff import read
from pytest_webdeliverable.measure.limits import Limits

SHORT, LONG, LONG8 = 3, 4, 16


def directory(*entries, following=0, order="<"):
    """One classic directory: (tag, type, count, value) each."""
    rows = b"".join(struct.pack(order + "HHII", *entry) for entry in entries)
    return struct.pack(order + "H", len(entries)) + rows + struct.pack(order + "I", following)


def file(*entries, tail=b""):
    return b"II*\0\x08\0\0\0" + directory(*entries) + tail


SIZE = ((256, LONG, 1, 100), (257, LONG, 1, 100))


def chain(count):
    """A file of empty directories behind a first one that has a size."""
    first = 8 + 2 + 2 * 12 + 4
    rows = b"".join(directory(following=first + 6 * (n + 1)) for n in range(count - 2))
    return b"II*\0\x08\0\0\0" + directory(*SIZE, following=first) + rows + directory(following=0)


def test_twenty_thousand_directories_are_counted():
    assert read(chain(20_000)).frames == 20_000


def test_a_hundred_thousand_directories_are_refused():
    with pytest.raises(DamagedError, match="more than 100,000 pages"):
        read(chain(110_000))


@pytest.mark.parametrize("back_to", [8, 8 + 2 + 2 * 12 + 4])
def test_directories_in_a_circle(back_to):
    first = 8 + 2 + 2 * 12 + 4
    data = b"II*\0\x08\0\0\0" + directory(*SIZE, following=first) + directory(following=back_to)
    header = read(data)
    assert header.frames == 2
    assert "the pages of the file lead back in a circle" in header.problems


@pytest.mark.parametrize("count", [65_535, 5000])
def test_a_directory_of_too_many_entries(count):
    with pytest.raises(DamagedError, match=f"claims {count:,} entries"):
        read(b"II*\0\x08\0\0\0" + struct.pack("<H", count) + bytes(12 * count))


def test_a_big_tiff_directory_of_endless_entries():
    with pytest.raises(DamagedError, match="entries"):
        read(b"II+\0\x08\0\0\0" + struct.pack("<QQ", 16, 2**64 - 1) + bytes(100))


@pytest.mark.parametrize("tag", [256, 258, 273, 279, 282, 338, 700, 33723, 34377, 34675])
@pytest.mark.parametrize("count", [0, 2**31, 2**32 - 1])
@pytest.mark.parametrize("kind", [1, 3, 5, 12, 16, 99])
def test_values_that_claim_to_be_endless(tag, count, kind):
    survives(read, file(*SIZE, (tag, kind, count, 8)))


def test_millions_of_strips():
    with pytest.raises(DamagedError, match="cut into 4,294,967,295 strips"):
        read(
            file(
                (256, LONG, 1, 100),
                (257, LONG, 1, 2**32 - 1),
                (273, LONG, 2**32 - 1, 8),
                (278, LONG, 1, 1),
            )
        )


def test_the_strips_of_all_pages_count_together():
    """Each of 700 pages claims the same million strips; only the first ones are looked at."""
    rows = (256, LONG, 1, 1), (257, LONG, 1, 900_000), (273, LONG, 900_000, 8), (278, LONG, 1, 1)
    size = len(directory(*rows))
    pages = [directory(*rows, following=8 + size * n) for n in range(1, 700)]
    header = read(b"II*\0\x08\0\0\0" + b"".join(pages) + directory(*rows) + bytes(4_000_000))
    assert header.frames == 700


def test_strips_claimed_beyond_the_file():
    refused(read, file(*SIZE, (273, LONG, 1, 8), (279, LONG, 1, 2**32 - 1), (259, SHORT, 1, 5)))
    refused(read, file(*SIZE, (273, LONG, 100, 8), (278, LONG, 1, 1), tail=bytes(10)))


def test_a_tile_larger_than_the_world():
    entries = (322, LONG, 1, 2**32 - 16), (323, LONG, 1, 2**32 - 16), (324, LONG, 1, 8)
    header = read(file(*SIZE, *entries, (325, LONG, 1, 2**32 - 1), (259, SHORT, 1, 8)))
    assert header.problems == ("the file ends before the picture does",)
    with pytest.raises(DamagedError, match="strips or tiles"):
        read(
            file(
                (256, LONG, 1, 2**32 - 1),
                (257, LONG, 1, 2**32 - 1),
                (322, LONG, 1, 1),
                (323, LONG, 1, 1),
                (324, LONG, 1, 8),
            )
        )


def test_resource_blocks_without_end():
    block = b"8BIM\x04\x09\0\0\xff\xff\xff\xff"
    header = read(file(*SIZE, (34377, 1, len(block), 8 + 2 + 3 * 12 + 4), tail=block))
    assert (header.iptc, header.previews) == (None, ())


def test_too_much_metadata_is_refused():
    with pytest.raises(DamagedError, match="more than 1 MiB of metadata"):
        read(
            file(*SIZE, (700, 1, 2**20 + 1, 8), tail=bytes(2**20 + 1)),
            Limits(metadata_bytes=2**20),
        )


def test_a_profile_that_is_too_large():
    header = read(file(*SIZE, (34675, 7, 5_000_000, 8), tail=bytes(5_000_000)))
    assert (header.icc, header.icc_problem) == (None, "the color profile is larger than 4 MiB")
