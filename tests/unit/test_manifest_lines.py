"""Line numbers of keys."""

from __future__ import annotations

import tomli
from hypothesis import given, settings
from hypothesis import strategies as st

from pytest_webdeliverable.manifest.lines import LineMap

TEXT = '''# a comment with [[piece]] in it
title = """
[[piece]]
file = "no"
"""
[portfolio]   # [spec.x]
"quoted key" = 1
pieces = {
  min = 1,
  max = 2,  # } not the end
}
[[piece]]
file = 'a#b.jpg'
waive = [
  { rule = "x" },

  { rule = "y",
    reason = "]" },
]
[piece.extra]
deep.er = 1
[[piece]]
file = """a""\\"b"""
lit = \'\'\'x'y\'\'\'
'''


def test_every_kind_of_place() -> None:
    tomli.loads(TEXT)
    lines = LineMap(TEXT)
    assert lines.line(("portfolio",)) == 6
    assert lines.line(("portfolio", "quoted key")) == 7
    assert lines.line(("portfolio", "pieces", "max")) == 10
    assert lines.line(("piece", 0)) == 12
    assert lines.line(("piece", 0, "file")) == 13
    assert lines.line(("piece", 0, "waive", 1)) == 17
    assert lines.line(("piece", 0, "waive", 1, "reason")) == 18
    assert lines.line(("piece", 0, "extra", "deep", "er")) == 21
    assert lines.line(("piece", 1, "lit")) == 24


def test_an_unwritten_key_takes_the_line_of_its_table() -> None:
    lines = LineMap(TEXT)
    assert lines.line(("piece", 1, "alt", "x")) == 22
    assert lines.line(("nowhere",)) == 1
    assert lines.line(()) == 1


def test_broken_text_ends_the_scan() -> None:
    assert LineMap("a = [}").line(("a",)) == 1


@settings(max_examples=500)
@given(st.text(alphabet="[]{}=.,#\"'\\\n ab1", max_size=60))
def test_any_text_is_scanned_without_error(text: str) -> None:
    assert LineMap(text).line(("a",)) >= 1
