"""XMP packets in every notation the standard allows, and the faults that end a parse."""

import pytest
from metadata_files import languages, sequence, xmp

from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits
from pytest_webdeliverable.measure.metadata.xmp import XmpProperty, read_xmp


def read(packet, limits=DEFAULT_LIMITS):
    return read_xmp(packet, limits)


def test_attributes_and_elements_are_the_same_properties():
    as_attribute = read(xmp("", attributes='exif:GPSLatitude="1,2N"'))
    as_element = read(xmp("<exif:GPSLatitude>1,2N</exif:GPSLatitude>"))
    assert as_attribute.properties == as_element.properties
    assert as_element.properties == (XmpProperty(("exif:GPSLatitude",), "1,2N"),)
    assert as_element.problems == ()


def test_arrays_keep_their_order_and_leave_no_trace_in_the_path():
    found = read(xmp(f"<dc:creator>{sequence('One', ' Two ', '')}</dc:creator>"))
    assert found.values("dc:creator") == ["One", "Two"]


def test_languages_are_all_values():
    body = f"<dc:rights>{languages(x_default='Rights', de='Rechte')}</dc:rights>"
    assert read(xmp(body)).values("dc:rights") == ["Rights", "Rechte"]


@pytest.mark.parametrize(
    "struct",
    [
        '<rdf:li rdf:parseType="Resource"><Iptc4xmpExt:City>X</Iptc4xmpExt:City></rdf:li>',
        "<rdf:li><rdf:Description><Iptc4xmpExt:City>X</Iptc4xmpExt:City></rdf:Description></rdf:li>",
        '<rdf:li Iptc4xmpExt:City="X"/>',
        '<rdf:li><rdf:Description Iptc4xmpExt:City="X"/></rdf:li>',
    ],
)
def test_structures_in_each_notation(struct):
    body = f"<Iptc4xmpExt:LocationShown><rdf:Bag>{struct}</rdf:Bag></Iptc4xmpExt:LocationShown>"
    path = ("Iptc4xmpExt:LocationShown", "Iptc4xmpExt:City")
    assert read(xmp(body)).properties == (XmpProperty(path, "X"),)


def test_a_resource_is_a_value():
    body = '<dc:source rdf:resource="urn:x"/><dc:relation>a &amp; b</dc:relation>'
    assert read(xmp(body)).properties == (
        XmpProperty(("dc:source",), "urn:x"),
        XmpProperty(("dc:relation",), "a & b"),
    )


def test_other_prefixes_of_a_known_namespace_and_unknown_namespaces():
    packet = (
        b'<r:RDF xmlns:r="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        b'<r:Description xmlns:q="http://purl.org/dc/elements/1.1/" xmlns:u="urn:u" '
        b'q:format="image/jpeg" u:key="v" plain="no"/></r:RDF>'
    )
    assert read(packet).properties == (
        XmpProperty(("dc:format",), "image/jpeg"),
        XmpProperty(("{urn:u}key",), "v"),
    )


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-32-be"]
)
def test_encodings(encoding):
    text = xmp("<dc:rights>Zoë</dc:rights>").decode()
    if encoding != "utf-8":  # the xpacket line holds the mark too
        text = text[text.index("<x:xmpmeta") :]
    found = read(text.encode(encoding))
    assert found.values("dc:rights") == ["Zoë"]
    assert found.problems == ()


@pytest.mark.parametrize("padding", [b"", b"\0" * 500, b"\n   \n" * 100, b" \0"])
def test_padding_around_the_packet(padding):
    found = read(b"\n  " + xmp("<dc:rights>R</dc:rights>") + padding)
    assert found.values("dc:rights") == ["R"]
    assert found.problems == ()


def test_the_declared_encoding_is_not_looked_up():
    body = xmp("<dc:rights>Zoë</dc:rights>")
    for name in (b"utf-7", b"idna", b"no-such", b"unicode_escape"):
        found = read(b'<?xml version="1.0" encoding="' + name + b'"?>' + body)
        assert found.values("dc:rights") == ["Zoë"]
        assert found.problems == ()


def test_bytes_that_are_no_text_are_replaced():
    found = read(xmp("<dc:rights>R</dc:rights><dc:title>@</dc:title>").replace(b"@", b"\xe9"))
    assert found.values("dc:rights") == ["R"]
    assert found.values("dc:title") == ["\ufffd"]
    assert found.problems == ("the XMP packet holds bytes that are no text",)


def test_what_stands_before_a_fault_is_kept():
    packet = xmp("<dc:rights>R</dc:rights><dc:title>no end")
    found = read(packet)
    assert found.values("dc:rights") == ["R"]
    assert found.problems == ("the XMP packet is not well-formed XML",)
    assert not found.names_gps


def test_a_position_behind_a_fault_is_noticed():
    packet = xmp("<dc:rights>R</dc:title><exif:GPSLatitude>1</exif:GPSLatitude>")
    assert read(packet).names_gps


@pytest.mark.parametrize("packet", [b"", b"\0\0\0", b"  \n", b"\xef\xbb\xbf"])
def test_empty_packets(packet):
    assert read(packet).problems == ("the XMP packet is empty",)


def test_limits():
    packet = xmp("<dc:rights>R</dc:rights>")
    assert read(packet, Limits(metadata_bytes=10)).problems == (
        "the XMP packet is larger than is read",
    )
    assert read(packet, Limits(xmp_depth=3)).problems == (
        "the XMP packet is nested deeper than is read",
    )
    assert read(packet, Limits(xmp_depth=4)).problems == ()
