"""Our XMP and IPTC-IIM readers against other software.

IPTC-IIM: Pillow's IptcImagePlugin reads the same JPEG files. Both kinds: the general metadata
library exiv2 writes and reads the files where it is installed (Debian package exiv2, tried with
0.27.6); without it those tests are skipped. Which data set and property is which: IPTC Photo
Metadata Standard 2024.1.
"""

import io
import shutil
import struct
import subprocess

import pytest
from metadata_files import header, iim
from PIL import Image, IptcImagePlugin

from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS
from pytest_webdeliverable.measure.metadata import metadata_facts
from pytest_webdeliverable.measure.metadata.iptc import read_iptc
from pytest_webdeliverable.measure.metadata.xmp import read_xmp

EXIV2 = shutil.which("exiv2")
needs_exiv2 = pytest.mark.skipif(EXIV2 is None, reason="the exiv2 program is not installed")

# IIM number, its XMP twin in exiv2's notation, a value. IPTC Photo Metadata Standard 2024.1.
TWINS = [
    ("By-line", (2, 80), "Iptc.Application2.Byline", "Xmp.dc.creator", "Mara Quill"),
    ("Copyright Notice", (2, 116), "Iptc.Application2.Copyright", "Xmp.dc.rights", "© Quill"),
    ("City", (2, 90), "Iptc.Application2.City", "Xmp.photoshop.City", "Tidewater"),
    ("Sublocation", (2, 92), "Iptc.Application2.SubLocation", "Xmp.iptc.Location", "Pier 4"),
    ("State", (2, 95), "Iptc.Application2.ProvinceState", "Xmp.photoshop.State", "Nord"),
    ("Country code", (2, 100), "Iptc.Application2.CountryCode", "Xmp.iptc.CountryCode", "XQZ"),
    ("Country", (2, 101), "Iptc.Application2.CountryName", "Xmp.photoshop.Country", "Nowhere"),
    ("Headline", (2, 105), "Iptc.Application2.Headline", "Xmp.photoshop.Headline", "Boats"),
]


def jpeg(*, app13=b""):
    out = io.BytesIO()
    Image.new("RGB", (16, 8), "navy").save(out, "JPEG")
    data = out.getvalue()
    if not app13:
        return data
    block = b"Photoshop 3.0\0" + b"8BIM\x04\x04\0\0" + struct.pack(">I", len(app13)) + app13
    block += b"\0" * (len(app13) % 2)
    return data[:2] + b"\xff\xed" + struct.pack(">H", len(block) + 2) + block + data[2:]


def iptc_of(data):
    """The IIM stream of a JPEG: resource 0x0404 of the APP13 segment, by Pillow."""
    with Image.open(io.BytesIO(data)) as image:
        return image.info["photoshop"][0x0404]


@pytest.mark.parametrize("seed", range(12))
def test_data_sets_agree_with_pillow(seed):
    sets = [
        (2, 5 + (seed * 7 + n * 11) % 190, bytes([65 + n]) * (1 + seed * n * 13)) for n in range(9)
    ]
    data = jpeg(app13=iim(*sets, utf8=bool(seed % 2)))
    with Image.open(io.BytesIO(data)) as image:
        theirs = IptcImagePlugin.getiptcinfo(image)
    mine = read_iptc(iptc_of(data), DEFAULT_LIMITS)
    assert mine.problems == ()
    assert {key: values if len(values) > 1 else values[0] for key, values in mine.sets.items()} == {
        key: value for key, value in theirs.items() if key[0] > 0
    }


def exiv2(*arguments):
    done = subprocess.run([EXIV2, *map(str, arguments)], capture_output=True, check=False)
    return done.stdout.decode("utf-8", "replace")


@pytest.fixture
def picture(tmp_path):
    path = tmp_path / "picture.jpg"
    path.write_bytes(jpeg())
    return path


def xmp_of(path):
    with Image.open(path) as image:
        return image.info["xmp"]


@needs_exiv2
@pytest.mark.parametrize(("name", "number", "iptc_key", "xmp_key", "value"), TWINS)
def test_one_item_written_by_exiv2_in_both_places(picture, name, number, iptc_key, xmp_key, value):
    exiv2("-M", f"set {iptc_key} {value}", "-M", f"set {xmp_key} {value}", picture)
    assert read_iptc(iptc_of(picture.read_bytes()), DEFAULT_LIMITS).texts(*number) == [value]
    found = read_xmp(xmp_of(picture), DEFAULT_LIMITS)
    assert [item.value for item in found.properties] == [value]
    assert found.problems == ()


@needs_exiv2
def test_facts_of_a_file_written_by_exiv2(picture):
    exiv2(
        *(
            part
            for _, _, iptc, xmp, value in TWINS
            for key in (iptc, xmp)
            for part in ("-M", f"set {key} {value}")
        ),
        "-M",
        "set Xmp.exif.GPSLatitude 48,16.5N",
        "-M",
        "set Xmp.aux.SerialNumber 778899",
        "-M",
        "set Xmp.exifEX.LensSerialNumber 55",
        "-M",
        "set Exif.Image.Artist Ascii Somebody Else",
        "-M",
        "set Exif.Photo.BodySerialNumber Ascii 778899",
        "-M",
        "set Exif.GPSInfo.GPSLatitude 48/1 16/1 30/1",
        "-M",
        "set Exif.GPSInfo.GPSLatitudeRef N",
        picture,
    )
    with Image.open(picture) as image:
        exif = image.info["exif"].removeprefix(b"Exif\0\0")
    parts = header(exif=exif, xmp=(xmp_of(picture),), iptc=iptc_of(picture.read_bytes()))
    facts = metadata_facts(parts, DEFAULT_LIMITS)
    places = ["city", "sublocation", "province or state", "country code", "country"]
    assert {(item["place"], item["what"]) for item in facts["location"]} == {
        ("Exif", "GPS directory with a position"),
        ("XMP", "GPS data"),
        *(("XMP", place) for place in places),
        *(("IPTC", place) for place in places),
    }
    assert {(item["place"], item["what"]) for item in facts["device"]} == {
        ("Exif", "camera serial number"),
        ("XMP", "camera serial number"),
        ("XMP", "lens serial number"),
    }
    assert facts["credit"]["disagree"] == ["creator"]
    assert facts["credit"]["copyright"] == {"XMP": ["© Quill"], "IPTC": ["© Quill"]}
    assert facts["problems"] == []


@needs_exiv2
def test_structures_written_by_exiv2(picture):
    base = "Xmp.iptcExt.LocationShown"
    exiv2(
        "-M",
        f"set {base} XmpText type=Bag",
        "-M",
        f"set {base}[1]/iptcExt:City XmpText Tidewater",
        "-M",
        f"set {base}[1]/exif:GPSLatitude XmpText 48,16.5N",
        picture,
    )
    facts = metadata_facts(header(xmp=(xmp_of(picture),)), DEFAULT_LIMITS)
    assert facts["location"] == [
        {"place": "XMP", "what": "location shown in it", "coordinates": True}
    ]


@needs_exiv2
@pytest.mark.parametrize("repeat", [1, 4])
def test_several_creators_written_by_exiv2(picture, repeat):
    names = [f"Name {n}" for n in range(repeat)]
    exiv2(*(part for name in names for part in ("-M", f"set Xmp.dc.creator {name}")), picture)
    exiv2(
        *(part for name in names for part in ("-M", f"add Iptc.Application2.Byline {name}")),
        picture,
    )
    facts = metadata_facts(
        header(xmp=(xmp_of(picture),), iptc=iptc_of(picture.read_bytes())), DEFAULT_LIMITS
    )
    assert facts["credit"]["creator"] == {"XMP": names, "IPTC": names}
    assert facts["credit"]["disagree"] == []


@needs_exiv2
def test_our_packets_are_understood_by_exiv2(picture):
    """The other way round: what our test helper writes is what another program reads."""
    data = jpeg(
        app13=iim(*((*number, value.encode()) for _, number, _, _, value in TWINS), utf8=True)
    )
    picture.write_bytes(data)
    read = exiv2("-q", "-PIkt", picture)
    for _, _, key, _, value in TWINS:
        assert key in read
        assert value in read
