"""What rules on the past, on coding, on metadata and on originals say, with the numbers they tell."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import pytest
from sound_facts import GOOD, PIECE, RULES, changed, verdict

from pytest_webdeliverable.manifest.model import Jpeg
from pytest_webdeliverable.rules import copies
from pytest_webdeliverable.rules.base import Case, PieceRule

# The past


@pytest.mark.parametrize(
    ("rule", "part", "facts", "message", "evidence"),
    [
        ("resaved", "resaved", {"found": True, "first-quality": 70},
         "the picture carries traces of an earlier compression at about quality 70", {"score": 7.5}),
        ("resaved", "resaved", {"found": True, "first-quality": None},
         "the picture carries traces of an earlier compression", {"score": 7.5}),
        ("cropped-after-compression", "cropped", {"found": True, "offset": [0, 5]},
         "blocks of an earlier compression show, shifted by 0 px across and 5 px down: the picture was cropped after it",
         {"score": 7.5, "offset": [0, 5]}),
        ("cropped-after-compression", "cropped", {"found": True, "offset": None},
         "blocks of an earlier compression show: the picture was cropped after it", {"score": 7.5, "offset": None}),
        ("enlarged", "enlarged", {"found": True, "factor": 1.333},
         "the picture carries traces of being enlarged to about 1.3 times its size", {"score": 7.5, "factor": 1.333}),
        ("enlarged", "enlarged", {"found": True, "factor": None},
         "the picture carries traces of being enlarged", {"score": 7.5, "factor": None}),
    ],
)  # fmt: skip
def test_traces_of_the_past(
    rule: str, part: str, facts: dict[str, Any], message: str, evidence: dict[str, Any]
) -> None:
    found = verdict(rule, changed(f"history.{part}", facts | {"score": 7.5}))
    assert found.passed is False
    assert (found.message, found.evidence) == (message, evidence)


@pytest.mark.parametrize("part", ["resaved", "cropped", "enlarged"])
def test_a_picture_that_cannot_tell_its_past_passes_with_the_reason(part: str) -> None:
    rule = {"cropped": "cropped-after-compression"}.get(part, part)
    unsure = {"found": False, "score": 0.0, "undecided": "too plain"}
    found = verdict(rule, changed(f"history.{part}", unsure))
    assert (found.passed, found.message) == (True, "too plain")
    found = verdict(rule, changed(f"history.{part}", {**unsure, "undecided": None}))
    assert found.message.startswith("no ")


@pytest.mark.parametrize("resaved", [True, False])
def test_an_earlier_commit_comes_before_what_the_pixels_tell(resaved: bool) -> None:
    facts = changed("history.resaved", {"found": True, "score": 1.0, "first-quality": 70})
    previous = {"commit": "abc1234", "resaved": resaved}
    facts["git"] = {"committed": None, "previous": previous}
    found = verdict("resaved", facts)
    assert found.evidence == ({"previous": previous} if resaved else {"score": 1.0})
    facts["git"] = {"committed": None, "previous": None}
    assert verdict("resaved", facts).evidence == {"score": 1.0}


# How a JPEG is made


@pytest.mark.parametrize(
    ("value", "exact", "asked", "passed"),
    [
        (90, True, 90, True),
        (89, True, 90, False),
        (91, True, 90, True),
        (89.5, False, 90, True),  # half to even: 90
        (89.49, False, 90, False),
        (1, True, 1, True),
    ],
)
def test_the_least_quality(value: float, exact: bool, asked: int, passed: bool) -> None:
    """An estimate is rounded before it is judged, and told as one."""
    quality = {"value": value, "exact": exact}
    found = verdict("jpeg-quality", changed("header.jpeg.quality", quality), jpeg=Jpeg(quality=asked))  # fmt: skip
    assert found.passed is passed
    assert found.evidence == {"quality": value, "exact": exact}
    shown = f"quality {value}" if exact else f"quality about {value:.0f} (an estimate"
    assert found.message.startswith(shown)
    assert found.message.endswith(f"the spec asks for {asked} or more")


@pytest.mark.parametrize(
    ("process", "coding", "asked", "passed", "shown"),
    [
        ("baseline", "huffman", "baseline", True, "baseline"),
        ("extended", "huffman", "baseline", False, "extended sequential"),
        ("progressive", "huffman", "progressive", True, "progressive"),
        ("progressive", "arithmetic", "progressive", False, "progressive with arithmetic coding"),
    ],
)
def test_the_order_of_coding(
    process: str, coding: str, asked: str, passed: bool, shown: str
) -> None:
    facts = changed("header.jpeg", {**GOOD["header"]["jpeg"], "process": process, "coding": coding})
    found = verdict("jpeg-process", facts, jpeg=Jpeg(process=asked))
    assert found.passed is passed
    assert found.message == f"the JPEG is {shown}, the spec asks for {asked}"
    assert found.evidence == {"process": process}


@pytest.mark.parametrize(
    ("found", "passed", "message"),
    [
        ("4:2:0", False, "color is sampled 4:2:0, the spec asks for 4:4:4 or 4:2:2"),
        ("4:2:2", True, "color is sampled 4:2:2, the spec asks for 4:4:4 or 4:2:2"),
        ("gray", True, "the JPEG is gray and has no color samples"),
    ],
)
def test_samples_of_color(found: str, passed: bool, message: str) -> None:
    told = verdict("chroma-subsampling", changed("header.jpeg.sampling", found), jpeg=Jpeg(chroma=("4:4:4", "4:2:2")))  # fmt: skip
    assert (told.passed, told.message) == (passed, message)
    assert told.evidence == {"sampling": found}


# What is written inside


@pytest.mark.parametrize(
    ("flag", "passed"), [(None, True), (1, True), (2, False), (8, False), (0, False)]
)
def test_flags_that_turn_the_picture(flag: int | None, passed: bool) -> None:
    header = {**GOOD["header"], "orientation": flag, "stored": [1200, 1600]}
    found = verdict("orientation-flag", changed("header", header))
    assert found.passed is passed
    if not passed:
        assert found.message.startswith(f"an orientation flag of {flag} asks viewers")
        assert found.message.endswith("of 1200 x 1600 px")
        assert found.evidence == {"flag": flag}


@pytest.mark.parametrize("kind", ["location", "device"])
def test_places_of_private_data_are_named_once(kind: str) -> None:
    items = [{"place": place, "what": what} for place, what in (("XMP", "two"), ("Exif", "one"), ("XMP", "two"), ("XMP", "six"))]  # fmt: skip
    found = verdict(f"metadata-{kind}", changed(f"metadata.{kind}", items))
    assert found.passed is False
    assert found.message.endswith("data inside: two (XMP), one (Exif), six (XMP)")
    assert found.evidence == {"places": ["Exif", "XMP"]}


def test_previews_that_differ_are_told() -> None:
    """The others are in the evidence only; one that cannot be read is told with its problem."""
    ours = {"place": "Exif", "width": 160, "height": 120, "same": True, "problem": None}
    other = {**ours, "place": "JFXX", "width": 64, "same": False}
    broken = {**ours, "place": "XMP", "same": False, "problem": "it is cut short"}
    found = verdict("metadata-preview", changed("metadata.previews", [ours, other, broken]))
    assert found.message == (
        "an embedded preview differs from the picture: JFXX, 64 x 120 px, XMP: it is cut short; it "
        "may show what was cropped away"
    )
    assert found.evidence == {"previews": [ours, other, broken]}
    assert "shows the same" in verdict("metadata-preview", changed("metadata.previews", [ours])).message  # fmt: skip
    assert verdict("metadata-preview").message == "no embedded preview"


@pytest.mark.parametrize(
    ("asked", "credit", "passed", "message"),
    [
        (("creator", "copyright"), {}, True, "creator: Mara, Bo; copyright: (c)"),
        (("copyright",), {"creator": {}}, True, "copyright: (c)"),
        (("creator",), {"copyright": {}}, True, "creator: Mara, Bo"),
        (("creator", "copyright"), {"creator": {}, "copyright": {}}, False,
         "no creator is written; no copyright is written"),
        (("creator", "copyright"), {"creator": {}}, False, "no creator is written"),
        (("creator", "copyright"), {"disagree": ["creator"]}, False,
         "the creator differs from place to place (Exif: Mara, Bo; XMP: Mara)"),
        (("copyright",), {"disagree": ["creator"]}, True, "copyright: (c)"),
    ],
)  # fmt: skip
def test_credits_asked_for(asked: Any, credit: dict[str, Any], passed: bool, message: str) -> None:
    names = {"creator": {"Exif": ["Mara", "Bo"], "XMP": ["Mara"]}}
    facts = changed("metadata.credit", {**GOOD["metadata"]["credit"], **names, **credit})
    found = verdict("metadata-credit", facts, credit=asked)
    assert (found.passed, found.message) == (passed, message)


# Copies and originals


@pytest.mark.parametrize(
    ("crop", "words"),
    [
        ([-0.01, 0.0, 1.0, 1.0099], "it shows 0% to 100% of the original's width and 0% to 100% of its height"),
        ([-0.011, 0.0, 1.0, 1.011], "it shows 0% to 100% of the original's width and 0% to 100% of its height, and something beyond its edge (left, bottom)"),
        ([0.25, 0.1, 0.75, 0.9], "it shows 25% to 75% of the original's width and 10% to 90% of its height"),
        ([-0.3, -0.2, 1.4, 1.3], "it shows 0% to 100% of the original's width and 0% to 100% of its height, and something beyond its edge (left, top, right, bottom)"),
    ],
)  # fmt: skip
def test_the_part_that_a_copy_shows(crop: list[float], words: str) -> None:
    """A hundredth of a side beyond the original's edge is rounding."""
    assert copies._part_shown(crop) == words


@pytest.mark.parametrize(
    ("change", "most"), [([1, -9, 3], 9), ([0, 0, 0], 0), ([-8.5, 8, 8], 8.5), ([1, 2, 12], 12)]
)
def test_the_shift_of_colors_is_the_largest_of_three(change: list[float], most: float) -> None:
    assert copies._shift(change) == most


@pytest.mark.parametrize("same", [True, False])
def test_a_copy_is_held_against_its_piece(monkeypatch: pytest.MonkeyPatch, same: bool) -> None:
    """The declared part is handed on."""
    part, seen = (0.0, 0.1, 1.0, 0.6), []

    def compared(*given: Any) -> Any:
        seen.append(given)
        return {"same": same, "score": 0.75}

    monkeypatch.setattr(copies, "same_picture", compared)
    rule = RULES["matches-piece"]
    assert isinstance(rule, PieceRule)
    piece = replace(PIECE, copy_of="tide", crop=part)
    ours, theirs = copy.deepcopy(GOOD) | {"likeness": "a"}, copy.deepcopy(GOOD) | {"likeness": "b"}
    found = rule.check(Case(piece=piece, measured=ours, source=theirs))  # type: ignore[arg-type]
    assert seen == [("a", "b", part)]
    assert found.passed is same
    assert ("does not show" in found.message) is not same
    assert "the piece tide" in found.message
    assert found.evidence == {"score": 0.75}
    del theirs["likeness"]
    assert rule.check(Case(piece=piece, measured=ours, source=theirs)).passed is None  # type: ignore[arg-type]
