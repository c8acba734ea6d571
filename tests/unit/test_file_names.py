"""File names and templates."""

from __future__ import annotations

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pytest_webdeliverable.file_names import matches_template, template_problem, unsound_name

# Microsoft, "Naming Files, Paths, and Namespaces"; the verdicts are those of CPython's
# ntpath.isreserved for the same names.
RESERVED = {
    "NUL.tar.gz": True,
    "con.jpg": True,
    "aux .jpg": True,
    "COM0": False,
    "COM10": False,
    "COM¹": True,
    "LPT9.png": True,
    "console.jpg": False,
    "photo.jpg.": True,
    "photo.jpg ": True,
}


@pytest.mark.parametrize(("name", "reserved"), RESERVED.items())
def test_windows_names(name: str, reserved: bool) -> None:
    assert bool(unsound_name(name)) is reserved


@pytest.mark.parametrize("name", ["a-b.jpg", "A_b~1.v2.png", "0.tif"])
def test_unreserved_characters_of_rfc_3986_are_sound(name: str) -> None:
    assert unsound_name(name) == ""


@pytest.mark.parametrize(
    "name", ["a b.jpg", "ä.jpg", "a%20b.jpg", "a?.jpg", ".hidden.jpg", "x" * 256]
)
def test_names_that_break_somewhere(name: str) -> None:
    assert unsound_name(name)


@pytest.mark.parametrize(
    ("stem", "template", "good"),
    [
        ("quill-mara-tide-table", "{family}-{given}-{piece}", True),
        ("quill-mara", "{family}-{given}-{piece}", False),
        ("Quill-mara-tide", "{family}-{given}-{piece}", False),
        ("quill-mara-tide-", "{family}-{given}-{piece}", False),
        ("-quill-mara-tide", "{family}-{given}-{piece}", False),
        ("quill_mara_2", "{family}_{given}_{number}", True),
        ("ux101-quill", "ux101-{family}", True),
        ("ux102-quill", "ux101-{family}", False),
        ("a--b", "{family}-{given}", False),
        ("a--b", "{piece}", True),
        ("", "{piece}", False),
        ("quill-mara-tide-v2-final", "{family}-{given}-{piece}-final", True),
    ],
)
def test_templates(stem: str, template: str, good: bool) -> None:
    assert matches_template(stem, template) is good


@pytest.mark.parametrize(
    "template", ["", "plain", "{a}{b}", "{a", "a}", "{A}", "{a b}", "{}", "-".join(["{a}"] * 21)]
)
def test_broken_templates(template: str) -> None:
    assert template_problem(template)


def test_a_template_cannot_make_matching_slow() -> None:
    # Processor time, and ten times what it takes: a traced run on a loaded machine is no slow matching.
    start = time.process_time()
    assert not matches_template("a-" * 500 + "_", "-".join(["{a}"] * 20))
    assert time.process_time() - start < 10


names = st.from_regex(r"[a-z0-9]+(-[a-z0-9]+)*", fullmatch=True)


@given(st.lists(names, min_size=1, max_size=5), st.sampled_from(["-", "_", ".", "-x-"]))
def test_whatever_is_built_from_a_template_matches_it(parts: list[str], between: str) -> None:
    assert matches_template(between.join(parts), between.join(["{a}"] * len(parts)))
