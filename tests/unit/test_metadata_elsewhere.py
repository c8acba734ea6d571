"""The search for metadata outside its usual place: what it finds, what it leaves alone, where it ends."""

import struct

import pytest
from metadata_files import header, iim, tiff, xmp

from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS
from pytest_webdeliverable.measure.metadata import metadata_facts, read_metadata
from pytest_webdeliverable.measure.metadata.elsewhere import search

EXIF = tiff([{0x010F: (2, b"maker\0")}])
PLACE = tiff([{0x010F: (2, b"maker\0")}], pointers={0x8825: {1: (2, b"N\0")}})
PACKET = xmp("<dc:title>a title</dc:title>")
BARE = PACKET[PACKET.index(b"<rdf:RDF") : PACKET.index(b"</x:xmpmeta>")]
CITY = iim((2, 90, b"a city"))
RESOURCE = b"8BIM\4\4\0\0" + struct.pack(">I", len(CITY)) + CITY


def locations(data, **parts):
    found = header(**parts)
    metadata = read_metadata(found, DEFAULT_LIMITS, data)
    return [fact["what"] for fact in metadata_facts(found, DEFAULT_LIMITS, metadata)["location"]]


def test_a_file_without_more():
    found = search(b"a" * 5000, header())
    assert (found.exif, found.xmp, found.iptc) == ([], [], [])
    assert not found.names_gps
    assert not found.too_many


def test_blocks_are_found_between_other_bytes():
    data = b"aa" + b"Exif\0\0" + PLACE + b"bb" + BARE + b"cc" + RESOURCE + b"dd"
    found = search(data, header())
    assert found.exif[0].startswith(PLACE)
    assert found.xmp == [BARE.strip()]
    assert found.iptc == [CITY]


def test_what_the_header_holds_is_not_read_twice():
    data = b"aa" + b"Exif\0\0" + EXIF + b"bb" + PACKET + b"cc" + RESOURCE + b"dd"
    found = search(data, header(exif=EXIF, xmp=(PACKET,), iptc=CITY))
    assert (found.exif, found.xmp, found.iptc) == ([], [], [])


def test_a_block_taken_out_of_the_file_is_read():
    found = search(b"", header(), (PLACE, CITY, b"something else"))
    assert (found.exif, found.iptc) == ([PLACE], [CITY])


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"Exif\0\0" + PLACE, "GPS directory without a position"),
        (RESOURCE, "city"),
        (b'{"exif:GPSLatitude": "52,30N"}', "GPS position named outside the usual metadata"),
        (xmp("<photoshop:City>x</photoshop:City>"), "city"),
    ],
)
def test_a_place_counts_wherever_it_stands(data, what):
    assert locations(b"aaa" + data + b"bbb") == [what]


def test_a_name_in_a_packet_that_was_read_is_not_told_twice():
    packet = xmp("<exif:GPSLatitude></exif:GPSLatitude>")
    assert locations(packet, xmp=(packet,)) == []


def test_an_honest_file_has_no_place():
    assert locations(b"Exif\0\0" + EXIF + PACKET, exif=EXIF, xmp=(PACKET,)) == []


@pytest.mark.parametrize("mark", [b"Exif\0\0II*\0", RESOURCE[:6], BARE[:100] + b"</rdf:RDF>"])
def test_a_file_of_marks_is_not_searched_to_its_end(mark):
    """More than a thousand marks of a kind, or 64 blocks, and nobody can vouch for the rest."""
    assert search(mark * 1001, header()).too_many
    assert not search(mark * 10, header()).too_many
    assert locations(mark * 1001)


def test_metadata_beyond_a_limit_may_hold_a_place():
    many = tiff([dict.fromkeys(range(1, 5000), (3, 1))])
    assert locations(b"", exif=many) == [
        "more entries than are read, so that place data may be among them"
    ]
