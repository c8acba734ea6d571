"""WebP files made to mislead or to exhaust."""

import struct

import pytest
from header_files import anmf, riff_chunk, vp8l, vp8x, webp
from hostile_headers import refused

from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.webp import read


def test_thousands_of_frames_are_counted():
    header = read(webp(vp8x(2, 4000, 4000), riff_chunk(b"ANIM", bytes(6)), anmf() * 2000))
    assert (header.width, header.frames, header.problems) == (4000, 2000, ())


def test_a_hundred_thousand_chunks_are_refused():
    with pytest.raises(DamagedError, match="more than 100,000 chunks"):
        read(webp(vp8x(0), riff_chunk(b"junk", b"") * 1_000_000))


def test_a_huge_canvas_is_told_without_decoding():
    header = read(webp(vp8x(2, 2**24, 2**24), anmf()))
    assert (header.width, header.height) == (2**24, 2**24)


@pytest.mark.parametrize("size", [0, 1, 3, 4, 5, 11, 2**31, 2**32 - 1])
def test_wrong_container_sizes_are_refused(size):
    data = webp(vp8l())
    refused(read, data[:4] + struct.pack("<I", size) + data[8:])


@pytest.mark.parametrize("size", [0, 1, 9, 2**31, 2**32 - 1])
@pytest.mark.parametrize("at", [16, 34])
def test_wrong_chunk_sizes_are_refused(size, at):
    data = webp(vp8x(0), vp8l())
    refused(read, data[:at] + struct.pack("<I", size) + data[at + 4 :])


def test_too_much_metadata_is_refused():
    packet = riff_chunk(b"XMP ", bytes(9_000_000))
    with pytest.raises(DamagedError, match="more than 16 MiB of metadata"):
        read(webp(vp8x(0), vp8l(), packet, packet))


def test_a_profile_that_is_too_large():
    header = read(webp(vp8x(0x20), riff_chunk(b"ICCP", bytes(5_000_000)), vp8l()))
    assert (header.icc, header.icc_problem) == (None, "the color profile is larger than 4 MiB")
