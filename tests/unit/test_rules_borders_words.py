"""Verdicts exactly at, just inside and just outside a border, and the numbers that they tell.

The numbers are worked by hand from the facts given.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from sound_facts import GOOD, PIECE, RULES, SPEC, changed, verdict

from pytest_webdeliverable.manifest.model import Alt, Animation
from pytest_webdeliverable.rules import edges, file
from pytest_webdeliverable.rules.base import Case, PieceRule

# Edges


@pytest.mark.parametrize(
    ("gap", "words"),
    [
        ({"end": 1.0}, "along 100% of the height"),
        ({"start": 0.004, "end": 0.999}, "along 100% of the height"),  # 0.995: all of it
        ({"start": 0.006, "end": 1.0}, "along 99% of the height, up to its bottom end"),
        ({"end": 0.6}, "along 60% of the height, from its top end"),
        ({"end": 0.5}, "along 50% of the height, at its top end"),
        ({"start": 0.004, "end": 0.3}, "along 30% of the height, at its top end"),
        ({"start": 0.005, "end": 0.3}, "along 30% of the height, from 0% to 30% of it"),
        ({"start": 0.4, "end": 0.995}, "along 60% of the height, from 40% to 100% of it"),
        ({"start": 0.4, "end": 0.996}, "along 60% of the height, up to its bottom end"),
        ({"start": 0.5, "end": 0.996}, "along 50% of the height, at its bottom end"),
        ({"start": 0.5, "end": 0.5094}, "along less than 1% of the height, from 50% to 51% of it"),
        ({"start": 0.5, "end": 0.51}, "along 1% of the height, from 50% to 51% of it"),
        ({"end": 0.52}, "along 52% of the height, from its top end"),
        ({"start": 0.0048, "end": 0.3}, "along 30% of the height, at its top end"),
        ({"start": 0.0052, "end": 0.3}, "along 29% of the height, from 1% to 30% of it"),
        ({"start": 0.49, "end": 0.9952}, "along 51% of the height, up to its bottom end"),
        ({"start": 0.49, "end": 0.9948}, "along 50% of the height, from 49% to 99% of it"),
        ({"start": 0.0, "end": 0.9948}, "along 99% of the height, from its top end"),
        ({"start": 0.0, "end": 0.9952}, "along 100% of the height"),
        ({"end": 0.0095}, "along 1% of the height, at its top end"),
        ({"side": "top", "end": 0.25}, "along 25% of the width, at its left end"),
        ({"side": "bottom", "start": 0.75}, "along 25% of the width, at its right end"),
        ({"side": "right", "start": 0.75}, "along 25% of the height, at its bottom end"),
    ],
)  # fmt: skip
def test_where_a_sliver_lies_in_words(gap: dict[str, Any], words: str) -> None:
    """Within half a percent of an end it reaches the end; beyond half of the side it comes from there."""
    whole = {"side": "left", "depth": 2.0, "start": 0.0, "end": 1.0, "color": "#ffffff", **gap}
    found = edges._gap_words(whole)  # type: ignore[arg-type]
    assert found == f"{whole['side']} edge: 2 px of #ffffff {words}"


@pytest.mark.parametrize(
    ("alpha", "words"), [(0.0, "px see-through"), (0.019, "px see-through"), (0.02, "px half see-through (2% opaque)")]
)  # fmt: skip
def test_how_opaque_a_sliver_is(alpha: float, words: str) -> None:
    gap: Any = {"side": "left", "depth": 1.2499, "start": 0.0, "end": 1.0, "color": "#ffffff", "alpha": alpha}  # fmt: skip
    assert f"1.2 {words} along" in edges._gap_words(gap)


@pytest.mark.parametrize(("art", "asked"), [((1601, 1200), False), ((1000, 1000), True)])
def test_art_between_bands_that_does_not_fit_is_told_the_size(
    art: tuple[int, int], asked: bool
) -> None:
    margins = {"bands": [{"side": "top", "depth": 20.5, "color": "#ffffff"}, {"side": "bottom", "depth": 30.0, "color": "#fffffe"}], "art": {"width": art[0], "height": art[1]}}  # fmt: skip
    found = verdict("edge-margin", changed("edges.margins", margins))
    assert found.message.startswith("flat bands: top 20.5 px of #ffffff, bottom 30 px of #fffffe; ")
    assert ("must then be 1600 to 1601 x 1200 to 1201 px" in found.advice) is asked
    assert found.evidence == {"bands": margins["bands"], "art": margins["art"]}
    assert "must then be" not in verdict("edge-margin", changed("edges.margins", margins), box=None).advice  # fmt: skip


# Files and words


@pytest.mark.parametrize(("count", "passed"), [(999, True), (1000, True), (1001, False)])
def test_the_heaviest_file_allowed(count: int, passed: bool) -> None:
    found = verdict("file-weight", changed("file.bytes", count), weight=1000)
    assert found.passed is passed
    assert found.evidence == {"bytes": count, "most": 1000}


@pytest.mark.parametrize(
    ("field", "example"),
    [("Family", "family"), ("piece_no", "piece-no"), ("--", "name"), ("a  b", "a-b"), ("", "name")],
)
def test_an_example_of_a_field(field: str, example: str) -> None:
    assert file._example(field) == example


def test_a_template_is_shown_with_an_example() -> None:
    found = verdict("file-name", file="images/Quill.jpg")
    assert '"{family}-{piece}" (such as "family-piece.jpg")' in found.message


@pytest.mark.parametrize(
    ("length", "longest", "passed"), [(250, 250, True), (251, 250, False), (900, None, True), (20, 20, True)]
)  # fmt: skip
def test_the_longest_description(length: int, longest: int | None, passed: bool) -> None:
    text = ("abcd " * 200)[: length - 1] + "x"
    spec = replace(SPEC, alt=Alt(required=True, longest=longest))
    rule = RULES["alt-text"]
    assert isinstance(rule, PieceRule)
    found = rule.check(Case(piece=replace(PIECE, spec=spec, alt=text), measured=GOOD))  # type: ignore[arg-type]
    assert found.passed is passed
    assert found.evidence == {"length": length}
    assert found.gentle is not passed


def test_only_the_length_of_a_description_is_judged_gently() -> None:
    for text in (None, "image of", "quill-tide.jpg", "TO WRITE: it"):
        assert verdict("alt-text", None, alt=text).gentle is False


# Motion


@pytest.mark.parametrize(
    ("most", "kind", "found", "passed"),
    [
        (3, "general", 3.0, True),
        (3, "general", 3.01, False),
        (3, "red", 3.0, True),
        (0, "general", 0.5, False),
        (0, "general", 0.0, True),
        (0, "red", 1.0, False),
    ],
)
def test_flashes_allowed(most: float, kind: str, found: float, passed: bool) -> None:
    facts = changed("motion", {**GOOD["motion"], "general": {"flashes_per_second": 0.0, "area": 0, "at": 0.0}, kind: {"flashes_per_second": found, "area": 30000, "at": 1.25}})  # fmt: skip
    told = verdict("flash", facts, animation=Animation(flashes=most))
    assert told.passed is passed
    if not passed:
        assert told.message == f"{found:g} {kind} flashes in one second, at 1.2 s, over 30,000 px; at most {most:g} are allowed"  # fmt: skip
        assert told.evidence == {"kind": kind, "flashes-per-second": found}


@pytest.mark.parametrize(
    ("found", "frames", "message"),
    [
        (1, 1, "the file holds 1 picture, the spec asks for one"),
        (2, 1, "the file holds 2 pictures, the spec asks for one"),
        (1, 2, "the file holds 1 frame, the spec asks for at most 2"),
        (3, 2, "the file holds 3 frames, the spec asks for at most 2"),
        (2, 2, "the file holds 2 frames, the spec asks for at most 2"),
        (None, 2, "the file holds 1 frame, the spec asks for at most 2"),
    ],
)
def test_frames_are_counted(found: int | None, frames: int, message: str) -> None:
    told = verdict("single-frame", changed("header.frames", found), animation=Animation(frames=frames))  # fmt: skip
    assert told.message == message
    assert told.passed is ((found or 1) <= frames)
    assert told.evidence == {"frames": found or 1}
