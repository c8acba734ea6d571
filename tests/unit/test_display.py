"""Names and metadata from outside, made safe to print."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pytest_webdeliverable.display import LONGEST, display_name


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("images/tide-table.jpg", "images/tide-table.jpg"),
        ("Grüße 東京.png", "Grüße 東京.png"),
        ("", ""),
        ("a\nb\r\tc", "a\\nb\\r\\tc"),
        ("\x1b[31m", "\\x1b[31m"),
        ("a\x00b", "a\\x00b"),
        ("\x9b31m", "\\x9b31m"),  # a terminal escape in one character
        ("gpj.\u202egnp", "gpj.\\u202egnp"),  # right-to-left override
        ("a\u200fb\u200db", "a\\u200fb\\u200db"),
        ("a\u2028b\u2029", "a\\u2028b\\u2029"),
        ("a\u00a0b\u3000", "a\\xa0b\\u3000"),
        ("\ud800", "\\ud800"),
        ("na\udcffme", "na\\xffme"),  # a byte that is not UTF-8
        ("\U000e0041", "\\U000e0041"),
        ("::error::", ": :error: :"),
        (":::", ": : :"),
        ("##[error]", "# #[error]"),
        ("###[error]", "# # #[error]"),
        (":\n:", ":\\n:"),
    ],
)
def test_what_acts_is_made_visible(text, shown):
    assert display_name(text) == shown


def test_long_text_is_cut():
    assert display_name("x" * LONGEST) == "x" * LONGEST
    assert display_name("x" * (LONGEST + 1)) == "x" * (LONGEST - 3) + "..."
    assert len(display_name("\n" * 140_000)) == LONGEST
    assert len(display_name(":" * LONGEST)) == LONGEST


@given(st.text(st.characters(), max_size=300))
def test_nothing_that_acts_is_left(text):
    shown = display_name(text)
    assert len(shown) <= LONGEST
    assert shown.isprintable()
    assert "::" not in shown
    assert "##" not in shown
    shown.encode("utf-8")
    assert display_name(shown) == shown
