"""Bad ICC bytes: one sentence or facts, never another exception, always soon."""

import json
import struct

import profiles
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pytest_webdeliverable.measure.icc import DamagedProfileError, profile_facts
from pytest_webdeliverable.measure.icc_tags import MOST_TAGS

SOUND = {
    "matrix, para": profiles.matrix_profile(),
    "matrix, table": profiles.matrix_profile(curve=profiles.sampled(1024, profiles.srgb_light)),
    "version 4": profiles.assemble(
        profiles.matrix_tags() | {"desc": profiles.localized(("en", "v4"))}, version=(4, 4)
    ),
    "gray": profiles.gray_profile(profiles.gamma(2.2)),
    "gray, Lab": profiles.gray_profile(profiles.sampled(64, profiles.srgb_light), pcs="Lab "),
    "press": profiles.table_profile(),
}


def facts_or_sentence(data):
    """Facts that JSON can hold, or the sentence; anything else fails the test."""
    try:
        facts = profile_facts(data)
    except DamagedProfileError as damage:
        sentence = str(damage)
        assert sentence
        assert sentence.isprintable()
        return sentence
    json.dumps(facts, allow_nan=False)
    assert all(problem.isprintable() for problem in facts["problems"] + facts["oddities"])
    return facts


def with_entry(data, name, *, offset=None, size=None):
    """The profile with the place of one tag changed."""
    changed = bytearray(data)
    for entry in range(132, 132 + 12 * struct.unpack_from(">I", data, 128)[0], 12):
        if data[entry : entry + 4] == name:
            old = struct.unpack_from(">II", data, entry + 4)
            place = (old[0] if offset is None else offset, old[1] if size is None else size)
            struct.pack_into(">II", changed, entry + 4, *place)
            return bytes(changed)
    raise AssertionError(name)


@pytest.mark.parametrize("name", SOUND)
@pytest.mark.parametrize("tenth", range(10))
def test_cut_off_at_each_tenth(name, tenth):
    data = SOUND[name]
    assert "cut off" in facts_or_sentence(data[: len(data) * tenth // 10])


@pytest.mark.parametrize("name", SOUND)
def test_cut_off_by_one_byte(name):
    assert "cut off" in facts_or_sentence(SOUND[name][:-1])


@pytest.mark.parametrize("cut", [0, 1, 3, 127, 128, 131])
def test_less_than_a_header(cut):
    assert "less than its header" in facts_or_sentence(SOUND["matrix, para"][:cut])


@pytest.mark.parametrize("name", SOUND)
def test_cut_off_with_a_header_that_was_made_to_agree(name):
    data = SOUND[name]
    for length in range(132, len(data), 7):
        facts_or_sentence(struct.pack(">I", length) + data[4:length])


def test_without_signature():
    data = bytearray(SOUND["matrix, para"])
    data[36:40] = b"nope"
    assert facts_or_sentence(bytes(data)) == "what is embedded as color profile is no ICC profile"


@pytest.mark.parametrize("size", [0, 1, 131, 2**31, 2**32 - 1])
def test_header_size_that_cannot_be(size):
    data = struct.pack(">I", size) + SOUND["matrix, para"][4:]
    assert isinstance(facts_or_sentence(data), str)


@pytest.mark.parametrize("count", [0, 7, 9, 1000, 2**16, 2**31, 2**32 - 1])
def test_tag_count_that_is_wrong(count):
    data = bytearray(SOUND["matrix, para"])
    struct.pack_into(">I", data, 128, count)
    assert isinstance(facts_or_sentence(bytes(data)), (str, dict))
    if count >= 1000:
        assert "more than it can hold" in facts_or_sentence(bytes(data))


def test_a_million_entries_are_refused_unread():
    body = b"junk" + struct.pack(">II", 132, 4)
    count = 300_000
    data = bytearray(132) + body * count
    data[36:40] = b"acsp"
    struct.pack_into(">I", data, 0, len(data))
    struct.pack_into(">I", data, 128, count)
    assert count > MOST_TAGS
    assert "more than it can hold" in facts_or_sentence(bytes(data))


@pytest.mark.parametrize("tag", [b"rXYZ", b"gTRC"])
@pytest.mark.parametrize("offset", [2**31, 2**32 - 1, 10**6])
def test_needed_entry_beyond_the_end(tag, offset):
    sentence = facts_or_sentence(with_entry(SOUND["matrix, para"], tag, offset=offset))
    assert tag.decode() in sentence


@pytest.mark.parametrize("size", [0, 4, 7, 11, 2**32 - 1])
@pytest.mark.parametrize("tag", [b"rXYZ", b"gTRC"])
def test_needed_entry_of_impossible_size(tag, size):
    assert isinstance(facts_or_sentence(with_entry(SOUND["matrix, para"], tag, size=size)), str)


def test_entry_that_is_not_needed_beyond_the_end_is_told():
    facts = facts_or_sentence(with_entry(SOUND["matrix, para"], b"wtpt", offset=10**6))
    assert facts["srgb"] is True
    assert facts["oddities"] == ["entries of the color profile lie outside it: wtpt"]


def test_entries_that_overlap_in_part_do_no_harm():
    # Compact profiles in use let the description and others share bytes.
    data = SOUND["matrix, para"]
    (start,) = [
        struct.unpack_from(">I", data, entry + 4)[0]
        for entry in range(132, 132 + 12 * 8, 12)
        if data[entry : entry + 4] == b"rXYZ"
    ]
    facts = facts_or_sentence(with_entry(data, b"wtpt", offset=start + 4))
    assert (facts["srgb"], facts["problems"]) == (True, [])


def test_entries_that_point_into_the_header():
    assert isinstance(facts_or_sentence(with_entry(SOUND["matrix, para"], b"rTRC", offset=0)), str)


@pytest.mark.parametrize(
    "curve",
    [
        b"curv\0\0\0\0",
        b"curv\0\0\0\0\0\0\0\5",
        b"curv\0\0\0\0\xff\xff\xff\xff",
        profiles.table([0] * 10)[:-1],
        b"curv\0\0\0\0\0\0\0\1",
        b"para\0\0\0\0",
        b"para\0\0\0\0\0\3\0\0",
        profiles.para(3, 2.4, 0.9, 0.1, 0.1),
        profiles.para(5, 2.4),
        profiles.para(0xFFFF, 2.4),
        profiles.para(0, 0.0),
        profiles.para(0, -2.2),
        profiles.para(1, 2.2, 0.0, 1.0),
        profiles.para(2, 2.2, 0.0, 0.0, 0.0),
        b"XYZ \0\0\0\0" + bytes(12),
        b"junk" + bytes(8),
    ],
    ids=range(16),
)
def test_curves_that_cannot_be_worked_out_give_a_sentence(curve):
    assert isinstance(facts_or_sentence(profiles.matrix_profile(curve=curve)), str)
    assert isinstance(facts_or_sentence(profiles.gray_profile(curve)), str)


@pytest.mark.parametrize(
    "curve",
    [
        profiles.gamma(0.0),
        profiles.gamma(255.99),
        profiles.table([0, 0]),
        profiles.table([65535, 0]),
        profiles.table([65535] * 3),
        profiles.table(list(range(65536))),
        profiles.para(0, 32767.0),
        profiles.para(0, 1 / 65536),
        profiles.para(3, 32767.0, 32767.0, 32767.0, 32767.0, -32768.0),
        profiles.para(3, 32767.0, -32768.0, -32768.0, -32768.0, 0.5),
        profiles.para(4, 2.0, -32768.0, 32767.0, 32767.0, 32767.0, -32768.0, 32767.0),
        profiles.para(1, 2.4, 1 / 65536, 32767.0),
        profiles.para(2, 2.4, -1 / 65536, -32768.0, -32768.0),
    ],
    ids=range(13),
)
def test_curves_with_extreme_numbers_are_worked_out_and_are_not_srgb(curve):
    facts = facts_or_sentence(profiles.matrix_profile(curve=curve))
    assert facts["srgb"] is False
    assert 0 <= facts["curve_deviation"] <= 255.001


@pytest.mark.parametrize("value", [0.0, 32767.99, -32768.0, 1 / 65536])
def test_primaries_with_extreme_numbers_are_not_srgb(value):
    facts = facts_or_sentence(profiles.matrix_profile([(value,) * 3] * 3))
    assert facts["srgb"] is False
    assert any("cast" in oddity for oddity in facts["oddities"])


def test_a_table_of_the_wrong_type_is_told():
    data = profiles.table_profile().replace(b"mft1", b"junk")
    assert "A2B0" in facts_or_sentence(data)


@pytest.mark.parametrize("field", [12, 16, 20])
def test_control_characters_in_header_fields_stay_out_of_the_facts(field):
    data = bytearray(SOUND["matrix, para"])
    data[field : field + 4] = b"\x1b\n\0\xff"
    facts_or_sentence(bytes(data))


@settings(max_examples=300)
@given(
    name=st.sampled_from(sorted(SOUND)),
    changes=st.lists(st.tuples(st.integers(0, 4000), st.integers(0, 255)), min_size=1, max_size=12),
)
@example(name="matrix, para", changes=[(36, 0)])
def test_flipped_bytes_give_facts_or_a_sentence(name, changes):
    data = bytearray(SOUND[name])
    for place, value in changes:
        data[place % len(data)] = value
    facts_or_sentence(bytes(data))


@settings(max_examples=200)
@given(st.binary(max_size=400))
def test_any_bytes_after_a_header_give_facts_or_a_sentence(tail):
    header = bytearray(SOUND["matrix, para"][:128])
    struct.pack_into(">I", header, 0, 128 + len(tail))
    facts_or_sentence(bytes(header) + tail)


@settings(max_examples=200)
@given(
    function=st.integers(0, 6),
    parameters=st.lists(st.integers(-(2**31), 2**31 - 1), min_size=7, max_size=7),
)
def test_any_parametric_curve_gives_facts_or_a_sentence(function, parameters):
    curve = b"para\0\0\0\0" + struct.pack(">HH7i", function, 0, *parameters)
    facts_or_sentence(profiles.matrix_profile(curve=curve))


@given(st.binary(max_size=300))
def test_any_bytes_give_facts_or_a_sentence(data):
    facts_or_sentence(data)
