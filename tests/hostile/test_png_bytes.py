"""PNG files made to mislead or to exhaust."""

import struct
import zlib

import pytest
from header_files import PNG_START, animated_png, chunk, ihdr, pixels, png
from hostile_headers import refused, survives

from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.png import read
from pytest_webdeliverable.measure.limits import Limits

MIB = 1024 * 1024


def test_a_million_chunks_are_refused():
    data = PNG_START + ihdr() + chunk(b"teSt") * 1_000_000 + pixels() + chunk(b"IEND")
    with pytest.raises(DamagedError, match="more than 20,000 chunks"):
        read(data)


def test_an_honest_number_of_chunks_is_read():
    parts = zlib.compress(bytes(13 * 3))
    data = [chunk(b"IDAT", bytes([byte])) for byte in parts]
    assert read(PNG_START + ihdr() + b"".join(data) + chunk(b"IEND")).problems == ()
    filler = chunk(b"tEXt", b"Title\0x")
    assert read(png(*[filler] * 19_990)).problems == ()


def test_a_huge_size_is_told_without_decoding():
    header = read(png(head=ihdr(60_000, 60_000)))
    assert (header.width, header.height) == (60_000, 60_000)


@pytest.mark.parametrize("claimed", [2**31 - 1, 2**32 - 1])
def test_claimed_frames_cost_nothing(claimed):
    header = read(animated_png(2, claimed))
    assert header.frames == 2
    assert header.problems


BOMB = zlib.compress(bytes(300 * MIB))


def test_a_profile_that_unpacks_without_end():
    header = read(png(chunk(b"iCCP", b"bomb\0\0" + BOMB)))
    assert (header.icc, header.problems) == (None, ())
    assert header.icc_problem is not None
    assert "larger than 4 MiB" in header.icc_problem


@pytest.mark.parametrize(
    "part",
    [
        chunk(b"zTXt", b"Raw profile type exif\0\0" + BOMB),
        chunk(b"iTXt", b"XML:com.adobe.xmp\0\1\0\0\0" + BOMB),
        chunk(b"eXIf", bytes(17 * MIB)),
        chunk(b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0" + bytes(9 * MIB)) * 2,
        chunk(b"iTXt", b"XML:com.adobe.xmp\0\1\0\0\0" + zlib.compress(bytes(9 * MIB))) * 2,
    ],
    ids=["zTXt", "packed iTXt", "eXIf", "two of iTXt", "two of packed iTXt"],
)
def test_too_much_metadata_is_refused(part):
    with pytest.raises(DamagedError, match="more than 16 MiB of metadata"):
        read(png(part))


def test_text_of_no_interest_is_not_unpacked():
    assert read(png(chunk(b"zTXt", b"Comment\0\0" + BOMB))).problems == ()


def test_limits_are_those_of_the_run():
    limits = Limits(png_chunks=10, metadata_bytes=MIB, profile_bytes=MIB)
    with pytest.raises(DamagedError, match="more than 10 chunks"):
        read(png(*[chunk(b"tIME", bytes(7))] * 10), limits)
    with pytest.raises(DamagedError, match="more than 1 MiB of metadata"):
        read(png(chunk(b"eXIf", bytes(2 * MIB))), limits)


@pytest.mark.parametrize(
    "part",
    [
        chunk(b"pHYs", b"\0" * 8),
        chunk(b"cHRM", b"\0"),
        chunk(b"gAMA", b""),
        chunk(b"cICP", b"\1"),
        chunk(b"sRGB", b""),
        chunk(b"tRNS", b""),
        chunk(b"acTL", b""),
        chunk(b"eXIf", b"no such thing"),
        chunk(b"iCCP", b""),
        chunk(b"iTXt", b"XML:com.adobe.xmp"),
        chunk(b"iTXt", b"XML:com.adobe.xmp\0"),
        chunk(b"iTXt", b"XML:com.adobe.xmp\0\1"),
        chunk(b"zTXt", b"Raw profile type exif\0"),
        chunk(b"tEXt", b"Raw profile type iptc\0\niptc\n 9\nxyz"),
        chunk(b"tEXt", b"Raw profile type APP1\0\nAPP1\n 9\n00"),
        chunk(b"tEXt", b"Raw profile type iptc\0\niptc\n 12\n" + b"3842494d0404ff000000"),
    ],
)
def test_chunks_of_a_wrong_size_say_nothing(part):
    header = survives(read, png(part))
    assert header is not None
    assert (header.width, header.height) == (4, 3)


def test_a_chunk_that_claims_two_gigabytes():
    data = png() + b""
    big = data[:33] + struct.pack(">I", 2**31 - 1) + data[37:]
    refused(read, big)
