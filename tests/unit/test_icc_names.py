"""The name of an ICC profile: languages, plain text, length, and what could mislead."""

import profiles
import pytest

from pytest_webdeliverable.measure.icc import (
    profile_facts,
)


@pytest.mark.parametrize(
    ("words", "shown"),
    [
        ("plain", "plain"),
        ("line\nbreak", "line\\nbreak"),
        ("\x1b[31mred", "\\x1b[31mred"),
        ("::error::", ": :error: :"),
        ("  padded ", "padded"),
        ("", ""),
    ],
)
def test_names_are_safe_to_print(words, shown):
    assert profile_facts(profiles.matrix_profile(name=words))["description"] == shown


def test_the_first_language_stands_in_where_there_is_no_english():
    tags = profiles.matrix_tags() | {"desc": profiles.localized(("de", "Blau"), ("fr", "Bleu"))}
    assert profile_facts(profiles.assemble(tags, version=(4, 2)))["description"] == "Blau"


def test_a_plain_text_serves_as_a_name():
    tags = profiles.matrix_tags() | {"desc": b"text\0\0\0\0plain words\0"}
    assert profile_facts(profiles.assemble(tags))["description"] == "plain words"


def test_long_names_are_cut():
    assert len(profile_facts(profiles.matrix_profile(name="x" * 5000))["description"]) == 200


def test_turned_reading_direction_in_a_name_is_escaped():
    tags = profiles.matrix_tags() | {"desc": profiles.localized(("en", "a\u202eb"))}
    assert profile_facts(profiles.assemble(tags, version=(4, 2)))["description"] == "a\\u202eb"


@pytest.mark.parametrize(
    "name",
    [
        b"desc\0\0\0\0\xff\xff\xff\xffabc",
        b"mluc\0\0\0\0" + b"\xff" * 8,
        b"mluc\0\0\0\0",
        b"mluc\0\0\0\0" + (0).to_bytes(4, "big") + (12).to_bytes(4, "big"),
        b"mluc\0\0\0\0" + (9).to_bytes(4, "big") + (3).to_bytes(4, "big") + bytes(40),
        b"desc\0\0\0\0",
        b"junk" * 4,
    ],
)
def test_a_damaged_name_does_not_spoil_the_profile(name):
    facts = profile_facts(profiles.assemble(profiles.matrix_tags() | {"desc": name}))
    assert (facts["description"] in {"", "abc"}, facts["srgb"]) == (True, True)
