"""IPTC-IIM streams written byte by byte and read back."""

import pytest
from metadata_files import iim

from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits
from pytest_webdeliverable.measure.metadata.iptc import read_iptc


def read(data, limits=DEFAULT_LIMITS):
    return read_iptc(data, limits)


def test_repeated_sets_keep_their_order():
    found = read(iim((2, 80, b"One"), (2, 116, b"Rights"), (2, 80, b"Two")))
    assert found.texts(2, 80) == ["One", "Two"]
    assert found.texts(2, 116) == ["Rights"]
    assert found.texts(2, 90) == []
    assert found.problems == ()


def test_the_character_set_decides_about_bytes_that_fit_none():
    assert read(iim((2, 80, "Zoë".encode()), utf8=True)).texts(2, 80) == ["Zoë"]
    assert read(iim((2, 80, "Zoë".encode()))).texts(2, 80) == ["Zoë"]
    assert read(iim((2, 80, b"Zo\xeb"))).texts(2, 80) == ["Zoë"]
    assert read(iim((2, 80, b"Zo\xeb"), utf8=True)).texts(2, 80) == ["Zo\ufffd"]


def test_padding_and_empty_values_are_left_out():
    assert read(iim((2, 90, b" \0"), (2, 90, b""), (2, 90, b" X\0"))).texts(2, 90) == ["X"]
    assert read(iim((2, 90, b"X")) + b"\0" * 9).problems == ()


def test_extended_lengths():
    found = read(iim((2, 120, b"a" * 70_000), (2, 80, b"One")))
    assert len(found.sets[2, 120][0]) == 70_000
    assert found.texts(2, 80) == ["One"]
    assert found.problems == ()


@pytest.mark.parametrize(
    ("data", "problem"),
    [
        (b"\x1c\x02\x50\x00\x09abc", "the IPTC data are cut off"),
        (b"\x1c\x02\x50", "the IPTC data are cut off"),
        (b"junk", "the IPTC data hold something that is no data set"),
        (b"\x1c\x02\x50\x80\x09" + b"\1" * 20, "the IPTC data hold a length that cannot be"),
        (b"\x1c\x02\x50\x80\x04\0\0", "the IPTC data hold a length that cannot be"),
        (b"\x1c\x02\x50\x80\x04\xff\xff\xff\xffabc", "the IPTC data are cut off"),
    ],
)
def test_faults(data, problem):
    found = read(iim((2, 116, b"Rights")) + data)
    assert found.texts(2, 116) == ["Rights"]
    assert found.problems == (problem,)


def test_the_number_of_sets_is_limited():
    found = read(iim((2, 80, b"One")) * 5, Limits(ifd_entries=4))
    assert found.texts(2, 80) == ["One"] * 4
    assert found.problems == ("the IPTC data hold more data sets than are read",)
    assert read(iim((2, 80, b"One")) * 4, Limits(ifd_entries=4)).problems == ()


def test_nothing_is_nothing():
    assert read(b"").sets == {}
    assert read(b"").problems == ()
