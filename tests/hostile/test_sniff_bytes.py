"""Any bytes at all get a name, and any name leads to an answer."""

import pytest
from header_files import FTYP, GIF_START, PNG_START
from hostile_headers import survives
from hypothesis import given, settings
from hypothesis import strategies as st

from pytest_webdeliverable.measure.headers import describe, read_header, sniff

STARTS = [b"", PNG_START, GIF_START, FTYP, b"RIFF\x40\0\0\0WEBP", b"\xff\xd8\xff", b"II*\0"]
STARTS += [b"MM\0*", b"II+\0\x08\0\0\0", b"MM\0+\0\x08\0\0", b"<", b"<?xml ", b"\0\0\0\x18ftyp"]


@settings(max_examples=500)
@given(st.sampled_from(STARTS), st.binary(max_size=200))
def test_any_bytes_get_a_name_and_an_answer(start, rest):
    data = start + rest
    words = describe(data)
    assert words
    assert words.isprintable()
    assert (sniff(data) is None) or words.endswith("picture")
    survives(read_header, data)


@settings(max_examples=200)
@given(st.text(max_size=300))
def test_any_text_gets_a_name(text):
    assert describe(text.encode())


@pytest.mark.parametrize(
    "data",
    [
        b"<" * 30_000_000,
        b" " * 30_000_000,
        b"<!doctype " * 3_000_000,
        b"<a:" * 9_000_000,
        b"\0" * 30_000_000,
        b"\0\0\0\0ftyp" + b"heic" * 5_000_000,
        b"\xff\xff\xff\xffftyp" + b"xxxx" * 5_000_000,
    ],
    ids=["angles", "spaces", "doctypes", "prefixes", "zeros", "brands", "more brands"],
)
def test_megabytes_are_named_from_their_start(data):
    assert describe(data)
    assert sniff(data) is None
