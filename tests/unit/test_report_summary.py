"""The summary in Markdown: short enough, safe, and in an order that helps."""

from __future__ import annotations

import re
from typing import Any

import pytest
from sheets import HOSTILE, check, report_of

from pytest_webdeliverable.report.summary import MOST_BYTES, build_summary
from pytest_webdeliverable.report.words import code, markdown


def piece(name: str, *checks: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {"id": name, "file": f"{name}.jpg", "measured": {}, "checks": list(checks), **more}


def failed(**more: Any) -> dict[str, Any]:
    return check(outcome="failed", message="left edge: 2 px of #fdfffe", advice="Again.", **more)


def test_failures_come_first_then_advice_then_waivers() -> None:
    text = build_summary(
        report_of(
            [
                piece("one", check("resaved", "waived", reason="scan of a print"), failed()),
                piece("two", check("enlarged", "advised", message="soft")),
            ]
        )
    )
    assert "2 pieces, 3 checks: 1 to fix, 1 advised, 1 waived." in text
    places = [text.index(f"## {head}\n") for head in ("To fix", "Advice", "Waived")]
    assert places == sorted(places)
    assert "- `edge-gap`: left edge: 2 px of `#fdfffe`. Again." in text
    assert "Waived: scan of a print" in text


def test_a_run_in_which_all_holds_is_two_lines() -> None:
    text = build_summary(report_of([piece("one", check())], title="Posters"))
    assert text == "# Proof: Posters\n\n1 piece, 1 check: 1 passed.\n"


def test_the_score_names_what_was_lost() -> None:
    checks = [failed(points=2), check("density", points=3), check("alt-text", "skipped", points=1)]
    text = build_summary(report_of([piece("one", *checks)]))
    assert "Score: **3 of 6 points**. Lost: 2 for `edge-gap` of `one`, 1 for `alt-text`" in text


@pytest.mark.parametrize("hostile", HOSTILE)
def test_hostile_strings_are_inert(hostile: str) -> None:
    checks = [
        check("a", "failed", message=hostile, advice=hostile),
        check("b", "waived", message=hostile, reason=hostile),
    ]
    text = build_summary(report_of([piece("one", *checks, title=hostile)], title=hostile))
    assert "<" not in text.replace("&lt;", "")
    assert not re.search(r"[@#](?=\w)(?![0-9a-f]{6}`)", text)
    assert "::" not in text
    assert "##[" not in text
    assert not re.search(r"https?://|www\.", text)
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f\u202e]", text)
    # Each finding stays on its line, so nothing in it starts a heading, a list or a fence.
    shape = [re.match(r"# |## |### |- `|\d|$", line) for line in text.splitlines()]
    assert all(shape), text


@pytest.mark.parametrize("mark", list("\\`*_[]<>|~"))
def test_marks_of_markdown_are_escaped(mark: str) -> None:
    # CommonMark 0.31.2, 2.4: any ASCII punctuation may be escaped by a backslash.
    expected = {"<": "&lt;", ">": "&gt;"}.get(mark, f"\\{mark}")
    assert markdown(f"a{mark}b") == f"a{expected}b"


@pytest.mark.parametrize("text", ["a", "a`b", "``", "`a", "a```b``c"])
def test_code_cannot_be_ended_from_inside(text: str) -> None:
    # CommonMark 0.31.2, 6.1: a code span ends at a run of backticks as long as the first.
    shown = code(text)
    fence = re.match("`+", shown)
    assert fence is not None
    inside = shown[len(fence.group()) : -len(fence.group())]
    assert fence.group() not in re.findall("`+", inside)
    assert text in inside


def test_the_summary_is_cut_with_a_sentence() -> None:
    long = "ä" * 1200
    pieces = [
        piece(f"p{number}", *(check("edge-gap", "failed", message=long, advice=long),) * 3)
        for number in range(300)
    ]
    text = build_summary(report_of(pieces))
    assert 800_000 < len(text.encode()) <= MOST_BYTES
    shown = sum(line.startswith("- ") for line in text.splitlines())
    left = re.search(r"There are ([\d,]+) more findings; `index\.html` and", text)
    assert left is not None
    assert shown + int(left[1].replace(",", "")) == 900


def test_even_many_points_keep_to_the_size() -> None:
    checks = [failed(points=1) for _ in range(50)]
    text = build_summary(report_of([piece("x" * 200 + str(n), *checks) for n in range(200)]))
    assert len(text.encode()) <= MOST_BYTES
    assert "and 9,940 more" in text
