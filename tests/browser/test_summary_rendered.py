"""The summary through a CommonMark parser that is not ours: hostile strings come out as text."""

from __future__ import annotations

import html
import re
from typing import Any

import pytest
from sheets import HOSTILE, check, report_of

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.report.summary import build_summary

JOINER = "\u2060"


def rendered(words: str) -> str:
    library = pytest.importorskip("markdown_it", reason="markdown-it-py is not installed")
    checks = [
        check("edge-gap", "failed", message=words, advice=words),
        check("density", "waived", message=words, reason=words),
    ]
    piece: dict[str, Any] = {"id": "a", "file": "a", "title": words, "measured": {}}
    text = build_summary(report_of([{**piece, "checks": checks}], title=words))
    parser = library.MarkdownIt("commonmark").enable(["table", "strikethrough"])
    return str(parser.render(text))


@pytest.mark.parametrize("hostile", HOSTILE)
def test_hostile_strings_are_rendered_as_text(hostile: str) -> None:
    made, plain = rendered(hostile), rendered("plain")
    assert re.findall(r"</?\w+[^>]*>", made) == re.findall(r"</?\w+[^>]*>", plain)
    words = html.unescape(re.sub(r"<[^>]*>", "", made)).replace(JOINER, "")
    assert words.count(display_name(hostile, 1200)) == 7
