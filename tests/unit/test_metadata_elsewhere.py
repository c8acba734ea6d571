"""The search for metadata outside its usual place: what it finds, what it leaves alone, where it ends."""

import re
import struct

import pytest
from jpegs import saved
from metadata_files import header, iim, tiff, xmp

from pytest_webdeliverable.measure.headers import read_header
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


@pytest.mark.parametrize("before", [b"", b"a", b"<"])
def test_a_packet_from_the_first_byte_on(before):
    """Of a loose block the packet may be all; another opening sign before it is not its own."""
    assert search(before + BARE, header()).xmp == [BARE.strip()]
    assert search(b"", header(), (before + BARE,)).xmp == [BARE.strip()]


def test_a_packet_ends_with_its_end_tag_or_after_a_megabyte():
    assert search(BARE + b"more", header()).xmp == [BARE.strip()]
    opening = BARE[: BARE.index(b">") + 1]
    assert [len(one) for one in search(opening + b" " * 2**21, header()).xmp] == [2**20]
    assert search(opening + b"<a>", header()).xmp == [opening + b"<a>"]


def test_two_packets_one_behind_the_other():
    other = BARE.replace(b"a title", b"another")
    assert search(BARE + other, header()).xmp == [BARE.strip(), other.strip()]


def test_a_namespace_without_an_element_is_no_packet():
    """Text that names it, an element whose opening sign is more than 16 KiB before, an end tag."""
    name = b"http://www.w3.org/1999/02/22-rdf-syntax-ns#"
    for text in (name, b"</rdf:RDF " + name, b"<1 " + name, b"<a " + b" " * 2**14 + name):
        assert search(text, header()).xmp == []
    near = b"<a " + b" " * (2**14 - 3) + name
    assert search(near, header()).xmp == [near]


def test_a_part_of_an_extended_packet_is_left_to_the_reader_of_jpeg():
    heading = b"http://ns.adobe.com/xmp/extension/\0" + b"0" * 32 + bytes(8)
    assert search(heading + BARE, header()).xmp == []
    assert search(heading + b"aaaaa" * 2 + BARE, header()).xmp == [BARE.strip()]


@pytest.mark.parametrize("prefix", [b"Exif\0\0", b"EXIF\0\0", b"Exif\0a"])
def test_exif_in_other_letters(prefix):
    assert search(b"aa" + prefix + EXIF, header()).exif == [EXIF]


def test_exif_of_another_place_counts_beside_that_of_the_header():
    data = b"Exif\0\0" + EXIF + b"Exif\0\0" + PLACE
    assert [one.startswith(PLACE) for one in search(data, header(exif=EXIF)).exif] == [True]
    assert search(b"Exif\0\0no structure", header()).exif == []


def test_no_more_of_a_block_is_read_than_a_segment_holds():
    assert len(search(b"Exif\0\0" + EXIF + bytes(2**17), header()).exif[0]) == 2**16


def _numbered(number):
    return tiff([{0x010F: (2, b"maker %03d\0" % number)}])


@pytest.mark.parametrize(("blocks", "too_many"), [(64, False), (65, True)])
@pytest.mark.parametrize("mixed", [False, True])
def test_sixty_four_blocks_of_all_kinds_are_read(blocks, too_many, mixed):
    loose = [_numbered(number) for number in range(blocks)]
    if mixed:
        half = blocks // 2
        loose[:half] = [iim((2, 90, b"city %03d" % number)) for number in range(half)]
    found = search(b"", header(), tuple(loose))
    assert found.too_many == too_many
    assert len(found.exif) + len(found.iptc) == 64


def test_blocks_and_packets_count_together():
    data = b"".join(BARE.replace(b"a title", b"%07d" % number) for number in range(40))
    loose = tuple(_numbered(number) for number in range(30))
    found = search(data, header(), loose)
    assert (len(found.exif), len(found.xmp), found.too_many) == (30, 34, True)
    assert not search(data, header(), loose[:24]).too_many


def test_four_mebibytes_of_blocks_are_read():
    """A block that is met again counts once."""
    sizes = [2**20 - 7, 2**20, 2**20, 2**20 + 7]
    loose = tuple(EXIF.ljust(size, bytes([65 + at])) for at, size in enumerate(sizes))
    assert not search(b"", header(), loose + loose).too_many
    assert search(b"", header(), (*loose, EXIF)).too_many


@pytest.mark.parametrize(("marks", "too_many"), [(1000, False), (1001, True)])
def test_a_thousand_marks_of_a_kind(marks, too_many):
    assert search(b"Exif\0" * marks, header()).too_many == too_many


def test_a_name_counts_beyond_those_in_packets():
    """Two are named in a packet that is read; a third stands elsewhere."""
    packet = xmp("<a>GPSLatitude GPSLatitude GPSLongitude</a>")
    assert not search(packet, header(xmp=(packet,))).names_gps
    assert search(packet + b"GPSLatitude", header(xmp=(packet,))).names_gps
    assert search(packet + b"GPSLongitude", header(xmp=(packet,))).names_gps


def test_a_fifth_packet_is_not_read_and_may_hold_a_place():
    packets = [xmp(f"<dc:title>{number}</dc:title>") for number in range(5)]
    assert locations(b"", xmp=tuple(packets[:4])) == []
    assert locations(b"", xmp=tuple(packets)) == [
        "more entries than are read, so that place data may be among them"
    ]


@pytest.mark.parametrize("directory", [0, 1])
def test_image_resources_within_a_directory(directory):
    """Tag 0x8649 of the first directory or the one behind it; a value that is no bytes says nothing."""
    entry = {0x8649: (7, RESOURCE)}
    made = tiff([{}, entry] if directory else [entry])
    assert locations(b"", exif=made) == ["city"]
    assert locations(b"", exif=tiff([{0x8649: (4, 7)}])) == []
    assert locations(b"", exif=tiff([{0x8648: (7, RESOURCE)}])) == []


@pytest.mark.parametrize(
    ("latitude", "what"),
    [
        ((5, [52, 1, 30, 1, 0, 1]), "GPS directory with a position"),
        ((3, 52), "GPS directory with a position"),
        ((5, [52, 1]), "GPS directory with a position"),
        ((5, [0, 1, 0, 1, 0, 1]), "GPS directory with the position 0, 0"),
        ((3, 0), "GPS directory with the position 0, 0"),
        ((5, [0, 0]), "GPS directory whose position is no number (0/0)"),
    ],
)
def test_a_position_in_numbers_of_any_type(latitude, what):
    """CIPA DC-008 asks for three rationals; one, or a whole number, is a position as well."""
    position = {2: latitude, 4: latitude}
    assert locations(b"", exif=tiff([{}], pointers={0x8825: position})) == [what]


def test_a_packet_before_or_behind_the_one_that_is_read():
    other = BARE.replace(b"a title", b"another")
    for data in (PACKET + other, other + PACKET, b"a" + PACKET + other + b"a"):
        assert search(data, header(xmp=(PACKET,))).xmp == [other.strip()]


def test_text_that_names_the_namespace_does_not_end_the_search():
    name = b"http://www.w3.org/1999/02/22-rdf-syntax-ns#"
    assert search(name + b" " + BARE, header()).xmp == [BARE.strip()]
    assert search(b"<1 " + name + b">" + BARE, header()).xmp == [BARE.strip()]


@pytest.mark.parametrize("place", [0, 1, 2])
def test_the_coded_data_of_a_jpeg_are_passed_over_and_nothing_else(place):
    """What stands before them or behind them counts, up to the last byte."""
    parts = [b"aaa", b"bbb", b"ccc"]
    parts[place] = b"GPSLatitude"
    coded = len(parts[0]), len(parts[0] + parts[1])
    assert bool(locations(b"".join(parts), coded=coded)) == (place != 1)
    assert locations(b"".join(parts))


@pytest.mark.parametrize("progressive", [False, True])
def test_the_largest_scan_of_a_jpeg_is_its_coded_data(progressive):
    """From behind the header of a scan to the next marker: 0xFF and neither a zero nor RSTn (T.81, B.1.1)."""
    data = saved(progressive=progressive)
    scans = []
    for found in re.finditer(rb"\xff\xda(..)", data, re.DOTALL):
        start = found.end() - 2 + int.from_bytes(found[1], "big")
        end = re.compile(rb"\xff[^\x00\xd0-\xd7]").search(data, start)
        scans.append((start, end.start()))
    assert len(scans) == (10 if progressive else 1)  # as libjpeg writes RGB
    assert read_header(data).coded == max(scans, key=lambda scan: scan[1] - scan[0])
