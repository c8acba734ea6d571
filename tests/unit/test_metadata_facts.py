"""The facts that the privacy and credit rules judge: what counts, what does not, nothing copied."""

import json

import pytest
from metadata_files import facts, header, iim, languages, tiff, xmp

from pytest_webdeliverable.measure.content import content_facts
from pytest_webdeliverable.measure.headers.base import Density
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS
from pytest_webdeliverable.measure.metadata import all_densities, metadata_facts, read_metadata
from pytest_webdeliverable.measure.metadata.exif import read_exif

LATITUDE = {1: (2, b"N\0"), 2: (5, [48, 1, 16, 1, 30, 1])}
ZERO = {2: (5, [0, 1, 0, 1, 0, 1]), 4: (5, [0, 1, 0, 1, 0, 1])}
NO_NUMBER = {2: (5, [0, 0] * 3), 4: (5, [0, 0] * 3)}


def gps(entries):
    return tiff([{0x0112: (3, 1)}], pointers={0x8825: entries})


def located(place, what, *, coordinates=False):
    return {"place": place, "what": what, "coordinates": coordinates}


def test_a_file_without_metadata_has_no_facts():
    assert facts() == {
        "location": [],
        "device": [],
        "credit": {"creator": {}, "copyright": {}, "disagree": []},
        "orientation": None,
        "alt_text": None,
        "problems": [],
    }


@pytest.mark.parametrize(
    ("entries", "what", "coordinates"),
    [
        (LATITUDE, "GPS directory with a position", True),
        ({4: (5, [16, 1, 20, 1, 28, 100])}, "GPS directory with a position", True),
        (ZERO, "GPS directory with the position 0, 0", True),
        (NO_NUMBER, "GPS directory whose position is no number (0/0)", False),
        ({2: (2, b"48 N\0")}, "GPS directory whose position is no number (0/0)", False),
        ({0: (1, b"\2\3\0\0")}, "GPS directory with only its version number", False),
        ({0: (1, b"\2\3\0\0"), 6: (5, [80, 1])}, "GPS directory without a position", False),
        ({29: (2, b"2026:01:01\0")}, "GPS directory without a position", False),
        ({}, "GPS directory, empty or unreadable", False),
    ],
)
def test_a_gps_directory_counts_whatever_it_holds(entries, what, coordinates):
    found = facts(exif=gps(entries))
    assert found["location"] == [located("Exif", what, coordinates=coordinates)]


def test_a_gps_directory_named_in_a_later_directory_counts():
    exif = tiff([{}, {}, {}], pointers={0x8769: {0x8825: (4, 8)}})
    assert facts(exif=exif)["location"][0]["place"] == "Exif"


@pytest.mark.parametrize(
    ("body", "what", "coordinates"),
    [
        ("<exif:GPSLatitude>48,16.5N</exif:GPSLatitude>", "GPS data", True),
        ("<exif:GPSVersionID>2.3.0.0</exif:GPSVersionID>", "GPS data", False),
        (
            (
                "<xmpMM:Pantry><rdf:Bag><rdf:li rdf:parseType='Resource'>"
                "<exif:GPSLongitude>1,2E</exif:GPSLongitude></rdf:li></rdf:Bag></xmpMM:Pantry>"
            ),
            "GPS data",
            True,
        ),
        # the packet of a photograph that was placed in a layout, within that of the layout
        (
            (
                "<xmpMM:Pantry><rdf:Bag><rdf:li rdf:parseType='Resource'>"
                "<photoshop:City>X</photoshop:City></rdf:li></rdf:Bag></xmpMM:Pantry>"
            ),
            "city",
            False,
        ),
        (
            (
                "<xmpMM:Pantry><rdf:Bag><rdf:li><rdf:Description><Iptc4xmpExt:LocationCreated>"
                "<rdf:Bag><rdf:li Iptc4xmpExt:City='X'/></rdf:Bag></Iptc4xmpExt:LocationCreated>"
                "</rdf:Description></rdf:li></rdf:Bag></xmpMM:Pantry>"
            ),
            "location where it was made",
            False,
        ),
        # published vocabularies: W3C Basic Geo, Darwin Core, XMP Dynamic Media; a maker's own
        (
            "<g:lat xmlns:g='http://www.w3.org/2003/01/geo/wgs84_pos#'>48.1</g:lat>",
            "GPS data",
            True,
        ),
        (
            "<d:decimalLongitude xmlns:d='http://rs.tdwg.org/dwc/terms/'>9</d:decimalLongitude>",
            "GPS data",
            True,
        ),
        (
            "<v:shotLocation xmlns:v='http://ns.adobe.com/xmp/1.0/DynamicMedia/'>X</v:shotLocation>",
            "location where it was made",
            False,
        ),
        ("<f:GpsLongtitude xmlns:f='urn:flight'>+9.9</f:GpsLongtitude>", "GPS data", True),
        ("<photoshop:City>X</photoshop:City>", "city", False),
        ("<photoshop:State>X</photoshop:State>", "province or state", False),
        ("<photoshop:Country>X</photoshop:Country>", "country", False),
        ("<Iptc4xmpCore:Location>X</Iptc4xmpCore:Location>", "sublocation", False),
        ("<Iptc4xmpCore:CountryCode>X</Iptc4xmpCore:CountryCode>", "country code", False),
        (
            (
                "<Iptc4xmpExt:LocationShown><rdf:Bag><rdf:li Iptc4xmpExt:City='X'/></rdf:Bag>"
                "</Iptc4xmpExt:LocationShown>"
            ),
            "location shown in it",
            False,
        ),
        (
            (
                "<Iptc4xmpExt:LocationCreated><rdf:Bag><rdf:li rdf:parseType='Resource'>"
                "<Iptc4xmpExt:City>X</Iptc4xmpExt:City><exif:GPSLatitude>1,2N</exif:GPSLatitude>"
                "</rdf:li></rdf:Bag></Iptc4xmpExt:LocationCreated>"
            ),
            "location where it was made",
            True,
        ),
        (
            "<dc:title>x</wrong><exif:GPSLatitude>1,2N</exif:GPSLatitude>",
            "GPS position in a damaged packet",
            True,
        ),
    ],
)
def test_location_in_xmp(body, what, coordinates):
    found = facts(xmp=(xmp(body),))
    assert found["location"] == [located("XMP", what, coordinates=coordinates)]


@pytest.mark.parametrize(("tag", "numbers"), [(33922, 6), (34264, 16)])
@pytest.mark.parametrize("order", ["<", ">"])
def test_a_map_tells_where_it_lies(tag, numbers, order):
    """OGC GeoTIFF 1.1, 7.1.1: ModelTiepointTag and ModelTransformationTag, DOUBLEs."""
    page = {256: (3, 8), 257: (3, 8), 258: (3, 8), 259: (3, 1), 262: (3, 1), 273: (4, "tail"),
            277: (3, 1), 278: (3, 8), 279: (4, 64)}  # fmt: skip
    data = tiff([page | {tag: (12, list(range(numbers)))}], order=order, tail=bytes(64))
    found = content_facts(data)["metadata"]["location"]
    assert found == [located("Exif", "position as on a map (GeoTIFF)", coordinates=True)]
    assert content_facts(tiff([page], order=order, tail=bytes(64)))["metadata"]["location"] == []


@pytest.mark.parametrize(
    "body",
    [
        "<f:lat xmlns:f='urn:flight'>48</f:lat>",
        "<f:LatitudeOfExposure xmlns:f='urn:flight'>2</f:LatitudeOfExposure>",
        (
            "<Iptc4xmpCore:CreatorContactInfo rdf:parseType='Resource'><Iptc4xmpCore:CiAdrCity>X"
            "</Iptc4xmpCore:CiAdrCity></Iptc4xmpCore:CreatorContactInfo>"
        ),
    ],
)
def test_what_is_no_place_of_the_picture(body):
    assert facts(xmp=(xmp(body),))["location"] == []


@pytest.mark.parametrize(
    ("number", "what"),
    [
        (90, "city"),
        (92, "sublocation"),
        (95, "province or state"),
        (100, "country code"),
        (101, "country"),
        (26, "content location code"),
        (27, "content location name"),
    ],
)
def test_location_in_iptc(number, what):
    assert facts(iptc=iim((2, number, b"X")))["location"] == [located("IPTC", what)]
    assert facts(iptc=iim((2, number, b"  ")))["location"] == []


@pytest.mark.parametrize(
    ("name", "told"),
    [("CameraSerialNumber", True), ("DroneSerialNumber", True), ("serial_no", True),
     ("SerialNumbersRemoved", False), ("Model", False)],
)  # fmt: skip
def test_a_serial_number_in_a_makers_own_namespace(name, told):
    found = facts(xmp=(xmp(f"<f:{name} xmlns:f='urn:flight'>77</f:{name}>"),))["device"]
    assert found == ([{"place": "XMP", "what": "serial number of a device"}] if told else [])
    unset = facts(xmp=(xmp(f"<f:{name} xmlns:f='urn:flight'>000</f:{name}>"),))["device"]
    assert unset == []


def test_what_an_honest_export_writes_is_not_private():
    body = (
        "<xmpMM:DocumentID>xmp.did:1</xmpMM:DocumentID><xmpMM:InstanceID>2</xmpMM:InstanceID>"
        "<xmp:CreatorTool>Drawn</xmp:CreatorTool><tiff:Make>M</tiff:Make>"
        "<Iptc4xmpExt:DigImageGUID>3</Iptc4xmpExt:DigImageGUID>"
        "<Iptc4xmpCore:CreatorContactInfo><rdf:Description><Iptc4xmpCore:CiAdrCity>X"
        "</Iptc4xmpCore:CiAdrCity></rdf:Description></Iptc4xmpCore:CreatorContactInfo>"
        "<photoshop:City> </photoshop:City><aux:SerialNumber>000</aux:SerialNumber>"
    )
    exif = tiff(
        [{0x010F: (2, b"M\0"), 0x0110: (2, b"N\0"), 0x0131: (2, b"S\0"), 0x013C: (2, b"  \0")}],
        pointers={0x8769: {0xA431: (2, b"0000\0"), 0x927C: (7, bytes(20)), 0xA434: (2, b"L\0")}},
    )
    found = facts(exif=exif, xmp=(xmp(body),), iptc=iim((2, 55, b"20260101")))
    assert found["location"] == []
    assert found["device"] == []


@pytest.mark.parametrize(
    ("tag", "entry", "what"),
    [
        (0xA430, (2, b"Someone\0"), "name of the camera owner"),
        (0xA431, (2, b"12\0"), "camera serial number"),
        (0xA435, (2, b"12\0"), "lens serial number"),
        (0xA420, (2, b"abc\0"), "unique id of the camera image"),
        (0x927C, (7, b"maker"), "maker note, which may hold serial numbers"),
    ],
)
def test_device_in_exif(tag, entry, what):
    expected = [{"place": "Exif", "what": what}]
    assert facts(exif=tiff([{}], pointers={0x8769: {tag: entry}}))["device"] == expected


def test_host_computer_and_raw_serial_number():
    exif = tiff([{0x013C: (2, b"desk\0")}], pointers={0x014A: {0xC62F: (2, b"9\0")}})
    assert [item["what"] for item in facts(exif=exif)["device"]] == [
        "name of the host computer",
        "camera serial number",
    ]


@pytest.mark.parametrize(
    "name",
    [
        "aux:SerialNumber",
        "aux:LensSerialNumber",
        "aux:OwnerName",
        "exifEX:BodySerialNumber",
        "exifEX:LensSerialNumber",
        "exifEX:CameraOwnerName",
        "exif:ImageUniqueID",
        "tiff:HostComputer",
    ],
)
def test_device_in_xmp(name):
    found = facts(xmp=(xmp("", attributes=f'{name}="12"'),))["device"]
    assert len(found) == 1
    assert found[0]["place"] == "XMP"


def test_private_values_are_never_copied():
    exif = tiff(
        [{0x013C: (2, b"secret-host\0")}],
        pointers={0x8825: LATITUDE, 0x8769: {0xA431: (2, b"secret-serial\0")}},
    )
    body = "<exif:GPSLatitude>secret</exif:GPSLatitude><photoshop:City>secret</photoshop:City>"
    found = facts(exif=exif, xmp=(xmp(body),), iptc=iim((2, 90, b"secret")))
    assert "secret" not in json.dumps(found)
    assert len(found["location"]) == 4


def test_each_kind_is_listed_once():
    packet = xmp("", attributes='exif:GPSLatitude="1" exif:GPSLongitude="2" exif:GPSAltitude="3"')
    assert len(facts(xmp=(packet, packet))["location"]) == 1


def test_alt_text():
    body = f"<Iptc4xmpCore:AltTextAccessibility>{languages(x_default='A boat')}"
    found = facts(xmp=(xmp(body + "</Iptc4xmpCore:AltTextAccessibility>"),))
    assert found["alt_text"] == "A boat"


def test_packets_inside_the_exif_structure_are_read():
    exif = tiff([{0x02BC: (1, xmp("<photoshop:City>X</photoshop:City>")), 0x83BB: (7, b"junk!")}])
    found = facts(exif=exif)
    assert found["location"] == [located("XMP", "city")]
    assert found["problems"] == ["the IPTC data hold something that is no data set"]


def test_the_number_of_packets_is_limited():
    assert facts(xmp=(xmp(""),) * 5)["problems"] == [
        "the file holds more XMP packets than are read"
    ]
    assert facts(xmp=(xmp(""),) * 4)["problems"] == []


def test_metadata_that_were_read_already():
    read = read_metadata(header(exif=tiff([{0x0112: (3, 6)}])), DEFAULT_LIMITS)
    assert metadata_facts(header(), DEFAULT_LIMITS, read)["orientation"] == 6


def test_densities_of_all_places():
    exif = read_exif(tiff([{0x011A: (5, [300, 1]), 0x011B: (5, [300, 1])}]), DEFAULT_LIMITS)
    expected = [Density(place="Exif", x=300.0, y=300.0)]
    assert all_densities(header(), exif) == expected
    assert all_densities(header(form="tiff"), exif) == []
    assert all_densities(header(), None) == []
