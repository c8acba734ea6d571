"""XMP, IPTC-IIM and credit exactly at each documented limit, and one beyond it."""

from __future__ import annotations

import struct

import pytest
from metadata_files import facts, header, iim, xmp

from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits
from pytest_webdeliverable.measure.metadata import read_metadata
from pytest_webdeliverable.measure.metadata import xmp as xmp_reader
from pytest_webdeliverable.measure.metadata.iptc import read_iptc
from pytest_webdeliverable.measure.metadata.xmp import read_xmp

# IPTC-IIM


@pytest.mark.parametrize(("width", "read_"), [(1, True), (8, True), (9, False)])
def test_extended_lengths_of_up_to_eight_bytes(width, read_):
    size = struct.pack(">H", 0x8000 | width) + (3).to_bytes(width, "big")
    found = read_iptc(b"\x1c\x02\x50" + size + b"abc", DEFAULT_LIMITS)
    assert (found.texts(2, 80) == ["abc"]) == read_


def test_data_sets_at_the_end():
    whole = iim((2, 80, b"abc"))
    assert read_iptc(whole, DEFAULT_LIMITS).problems == ()
    empty = whole + b"\x1c\x02\x78\0\0"
    assert read_iptc(empty, DEFAULT_LIMITS).sets[2, 120] == [b""]
    assert read_iptc(empty, DEFAULT_LIMITS).problems == ()
    assert read_iptc(empty[:-1], DEFAULT_LIMITS).problems == ("the IPTC data are cut off",)
    late = read_iptc(whole + bytes(8) + b"x", DEFAULT_LIMITS)
    assert late.problems == ()  # eight zeros are padding, whatever stands behind
    early = read_iptc(whole + bytes(7) + b"x", DEFAULT_LIMITS)
    assert early.problems == ("the IPTC data hold something that is no data set",)


# XMP


@pytest.mark.parametrize(("size", "fits"), [(0, True), (1, False)])
def test_a_packet_as_large_as_allowed(size, fits):
    packet = xmp("<dc:title>T</dc:title>")
    found = read_xmp(packet, Limits(metadata_bytes=len(packet) - size))
    assert (found.values("dc:title") == ["T"]) == fits


@pytest.mark.parametrize(("attributes", "fits"), [(5, True), (6, False)])
def test_elements_and_attributes_use_up_what_is_allowed(monkeypatch, attributes, fits):
    """xmpmeta with its toolkit, RDF, Description with about: 5, a title with attributes: 1 more."""
    monkeypatch.setattr(xmp_reader, "_ELEMENTS_READ", 11)
    more = " ".join(f'dc:a{n}="1"' for n in range(attributes))
    found = read_xmp(xmp(f"<dc:title {more}>T</dc:title>"), DEFAULT_LIMITS)
    assert (found.problems == ()) == fits
    assert (found.problems == ("the XMP packet holds more elements than are read",)) != fits


def test_a_declaration_is_passed_over_wherever_it_says_an_encoding():
    body = xmp("<dc:title>T</dc:title>").decode()
    packet = '<?xml version="1.0" encoding="latin-1"?>' + body
    assert read_xmp(packet.encode("utf-16-le"), DEFAULT_LIMITS).values("dc:title") == ["T"]


@pytest.mark.parametrize(
    "encoding", ["utf-16-be", "utf-16-le", "utf-32-be", "utf-32-le"],
)  # fmt: skip
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_encodings_are_told_by_their_first_bytes(encoding, mark):
    """XML 1.0, appendix F."""
    body = mark + xmp("<dc:title>é</dc:title>").decode().split("?>", 1)[1]
    assert read_xmp(body.encode(encoding), DEFAULT_LIMITS).values("dc:title") == ["é"]


def test_packets_of_a_file():
    many = tuple(xmp(f"<dc:title>{n}</dc:title>") for n in range(5))
    found = read_metadata(header(xmp=many), DEFAULT_LIMITS)
    assert [one.values("dc:title") for one in found.xmp] == [["0"], ["1"], ["2"], ["3"], []]
    assert found.problems == ["the file holds more XMP packets than are read"]
    assert read_metadata(header(xmp=many[:4]), DEFAULT_LIMITS).problems == []


# Credit


@pytest.mark.parametrize(
    ("cut", "agree"), [(32, True), (28, True), (27, False)]
)  # a letter of up to 4 bytes may fall at the cut
def test_a_byline_that_may_have_been_cut(cut, agree):
    name = "Anastasia Bartholomea Quillfeather-Underhill"
    stated = facts(
        xmp=(xmp(f"<dc:creator><rdf:Seq><rdf:li>{name}</rdf:li></rdf:Seq></dc:creator>"),),
        iptc=iim((2, 80, name[:cut].encode())),
    )["credit"]
    assert (stated["disagree"] == []) == agree


@pytest.mark.parametrize(("cut", "agree"), [(128, True), (124, True), (123, False)])
def test_a_notice_that_may_have_been_cut(cut, agree):
    stated = facts(
        xmp=(xmp(f"<dc:rights>{'Q' * 200}</dc:rights>"),), iptc=iim((2, 116, b"Q" * cut))
    )["credit"]
    assert (stated["disagree"] == []) == agree


def test_twenty_values_of_a_place_are_kept():
    stated = facts(iptc=iim(*((2, 80, b"N%d" % n) for n in range(25))))["credit"]
    assert stated["creator"] == {"IPTC": [f"N{n}" for n in range(20)]}
