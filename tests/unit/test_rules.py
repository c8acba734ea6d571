"""Each rule beside its own limit: a near miss that passes and a near miss that fails."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from sound_facts import GOOD, PIECE, RULES, SPEC, changed, verdict

from pytest_webdeliverable.manifest.model import (
    Alt,
    Ppi,
    Spec,
)
from pytest_webdeliverable.manifest.quantities import parse_trim
from pytest_webdeliverable.rules.base import Case, PieceRule

PIECE_RULES = [
    name
    for name, rule in RULES.items()
    if isinstance(rule, PieceRule)
    and name not in {"matches-piece", "matches-original", "print-size"}
]


@pytest.mark.parametrize("rule", PIECE_RULES)
def test_sound_facts_pass(rule: str) -> None:
    found = verdict(rule)
    assert found.passed, found.message
    assert found.message


@pytest.mark.parametrize("rule", [rule for rule in PIECE_RULES if not rule.startswith("file-")])
def test_an_empty_spec_switches_the_rule_off(rule: str) -> None:
    judge = RULES[rule]
    assert isinstance(judge, PieceRule)
    assert not judge.applies(replace(PIECE, spec=Spec()))


GAP = {"side": "left", "depth": 2.0, "start": 0.0, "end": 1.0, "color": "#ffffff", "delta-e": 30.0}

# rule, what is changed, piece or spec, words of the message
FAILS: list[tuple[str, tuple[str, Any] | None, dict[str, Any], str]] = [
    ("file-case", ("file.on_disk", "images/Quill-tide.jpg"), {}, "capitals"),
    ("file-case", ("file.on_disk", "images/quill-ti\u0308de.jpg"), {"file": "images/quill-t\u00efde.jpg"}, "Unicode form"),
    ("file-format", ("header.format", "webp"), {}, "WebP, though its name ends in"),
    ("file-format", None, {"file": "images/quill-tide.png"}, "the name ends in"),
    ("file-format", ("header.format", "webp"), {"file": "a-b.webp"}, "the content is WebP; the spec asks for JPEG or PNG"),
    ("file-name", None, {"file": "images/quill.jpg"}, "does not follow"),
    ("file-name", None, {"file": "images/quill tide.jpg"}, "space"),
    ("file-name", None, {"file": "images/con.jpg"}, "reserved"),
    ("file-weight", ("file.bytes", 1_000_001), {}, "1000001 bytes"),
    ("pixel-size", ("header.width", 1602), {}, "too wide"),
    ("pixel-size", ("header.height", 1202), {}, "too high"),
    ("pixel-size", ("header.width", 1599), {}, "both sides"),
    ("pixel-size", ("header.width", 1599), {"trim": None, "box": (1600, 1300)}, "too small"),
    ("pixel-size", ("header.height", 1198), {"trim": parse_trim("3 x 4 in"), "fill": "within"}, "shape is not"),
    ("pixel-size", ("header.width", 1601), {"fill": "exact"}, "exactly"),
    ("density", ("header.densities", []), {}, "no density is written"),
    ("density", ("header.densities.0.x", None), {}, "JFIF is there but gives none"),
    ("density", ("header.densities.0", {"place": "JFIF", "x": 73.0, "y": 73.0}), {}, "73 ppi in JFIF"),
    ("density", ("header.densities.0.y", 73.0), {}, "axes differ"),
    ("density", ("header.densities", [{"place": "JFIF", "x": 72.0, "y": 72.0}, {"place": "Exif", "x": 300.0, "y": 300.0}]), {}, "disagree"),
    ("density", ("header.densities", [{"place": "JFIF", "x": 72.0, "y": 72.0}, {"place": "Exif", "x": 300.0, "y": None}]), {}, "Exif gives it for one axis only"),
    ("density", ("header.densities.0", {"place": "TIFF", "x": 298.9, "y": 298.9}), {"ppi": Ppi(min=300)}, "298.9 ppi in TIFF"),
    ("color-mode", ("header.mode", "cmyk"), {}, "CMYK"),
    ("bit-depth", ("header.bits", 16), {}, "16 bits"),
    ("color-profile", ("color.source", "none"), {}, "no color profile"),
    ("color-profile", ("color.srgb", False), {}, "asks for sRGB"),
    ("color-profile", ("color.srgb", None), {}, "asks for sRGB"),
    ("color-profile", ("color.fits", False), {"profile": "embedded"}, ""),
    ("color-profile", ("color.embedded", False), {"profile": "embedded"}, "no color profile"),
    ("color-profile", ("color.problems", ["the profile is cut short"]), {}, "cut short"),
    ("color-profile", None, {"profile": "none"}, "asks for none"),
    ("transparency", ("pixels.see_through", 0.00001), {}, "less than 0.1%"),
    ("jpeg-process", ("header.jpeg.process", "progressive"), {}, "progressive"),
    ("jpeg-process", ("header.jpeg.coding", "arithmetic"), {}, "arithmetic"),
    ("jpeg-quality", ("header.jpeg.quality.value", 89), {}, "quality 89"),
    ("jpeg-quality", ("header.jpeg.quality", {"value": 89.4, "exact": False}), {}, "estimate"),
    ("jpeg-quality", ("header.jpeg.quality", None), {}, "cannot be told"),
    ("chroma-subsampling", ("header.jpeg.sampling", "4:2:0"), {}, "4:2:0"),
    ("edge-gap", ("edges.gaps", [GAP]), {}, "left edge: 2 px of #ffffff along 100% of the height"),
    ("edge-gap", ("edges.gaps", [{**GAP, "side": "top", "end": 0.25}]), {}, "along 25% of the width, at its left end"),
    ("edge-gap", ("edges.gaps", [{**GAP, "start": 0.75}]), {}, "at its bottom end"),
    ("edge-gap", ("edges.gaps", [{**GAP, "start": 0.2, "end": 0.6}]), {}, "from 20% to 60% of it"),
    ("edge-gap", ("edges.gaps", [{**GAP, "alpha": 0.0}]), {}, "see-through"),
    ("edge-gap", ("edges.gaps", [{**GAP, "alpha": 0.5}]), {}, "50% opaque"),
    ("edge-outline", ("edges.outline", {"sides": ["left", "top"], "inset": 4.0, "width": 1.0, "color": "#ff0000", "delta-e": 40.0}), {}, "4 px inside the edge (left, top)"),
    ("edge-margin", ("edges.margins", {"bands": [{"side": "left", "depth": 20.0, "color": "#ffffff"}], "art": {"width": 1580, "height": 1200}}), {}, "1580 x 1200 px"),
    ("blank-picture", ("edges.blank.flat", True), {}, "#808080"),
    ("resaved", ("history.resaved", {"found": True, "score": 2.0, "threshold": 1.0, "first-quality": 70}), {}, "about quality 70"),
    ("cropped-after-compression", ("history.cropped", {"found": True, "score": 9.0, "offset": [3, 5]}), {}, "3 px across and 5 px down"),
    ("enlarged", ("history.enlarged", {"found": True, "score": 9.0, "factor": 1.5}), {}, "about 1.5"),
    ("metadata-location", ("metadata.location", [{"place": "Exif", "what": "GPS directory", "coordinates": True}]), {}, "GPS directory (Exif)"),
    ("metadata-device", ("metadata.device", [{"place": "XMP", "what": "serial number"}]), {}, "serial number (XMP)"),
    ("metadata-preview", ("metadata.previews", [{"place": "Exif", "width": 160, "height": 120, "difference": 0.4, "same": False, "problem": None}]), {}, "160 x 120 px"),
    ("metadata-credit", ("metadata.credit.creator", {}), {}, "no creator"),
    ("metadata-credit", ("metadata.credit.disagree", ["creator"]), {}, "differs from place to place (Exif: Mara; XMP: Mara)"),
    ("orientation-flag", ("header.orientation", 6), {}, "flag of 6"),
    ("single-frame", ("header.frames", 11), {}, "11 frames"),
    ("single-frame", ("header.frames", 2), {"animation": False}, "asks for one"),
    ("flash", ("motion.general.flashes_per_second", 3.5), {}, "3.5 general flashes"),
    ("flash", ("motion.red.flashes_per_second", 4.0), {}, "4 red flashes"),
    ("flash", ("motion.undecided", "it has too many frames"), {}, "too many frames"),
    ("alt-text", None, {"alt": None}, "no description"),
    ("alt-text", None, {"alt": "   "}, "no description"),
    ("alt-text", None, {"alt": "quill-tide.jpg"}, "file's name"),
    ("alt-text", None, {"alt": "Quill Tide"}, "file's name"),
    ("alt-text", None, {"alt": "Image of"}, "does not say"),
    ("alt-text", None, {"alt": "A poster."}, "does not say"),
    ("alt-text", None, {"alt": "TO WRITE: what it shows"}, "blank"),
    ("alt-text", None, {"alt": "x y" * 84}, "252 characters"),
    ("alt-text", None, {"decorative": True}, "decorative"),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "change", "piece", "words"), FAILS)
def test_near_misses_that_fail(
    rule: str, change: tuple[str, Any] | None, piece: dict[str, Any], words: str
) -> None:
    found = verdict(rule, changed(*change) if change else None, **piece)
    assert found.passed is False
    assert words in found.message
    assert found.advice.endswith((".", ".)"))
    assert "\n" not in found.message


def test_every_piece_rule_has_a_near_miss() -> None:
    tested = {name for name, *_ in FAILS} | {"file-present", "file-readable", "print-size"}
    assert tested >= set(PIECE_RULES)


PASSES: list[tuple[str, tuple[str, Any] | None, dict[str, Any]]] = [
    ("file-format", ("header.format", "png"), {"file": "a-b.PNG"}),
    ("pixel-size", ("header.width", 1601), {}),
    ("density", ("header.densities.0", {"place": "pHYs", "x": 72.009, "y": 72.009}), {}),
    ("density", ("header.densities.0", {"place": "JFIF", "x": 71.12, "y": 71.12}), {}),
    ("density", ("header.densities", [{"place": "JFIF", "x": None, "y": None}, {"place": "Exif", "x": 72.0, "y": 72.0}]), {}),
    ("density", ("header.densities.0", {"place": "pHYs", "x": 299.9994, "y": 299.9994}), {"ppi": Ppi(min=300)}),
    ("color-mode", ("header.mode", "gray"), {"color_mode": ("rgb", "gray")}),
    ("transparency", ("header.alpha", True), {}),
    ("jpeg-quality", ("header.jpeg.quality", {"value": 89.6, "exact": False}), {}),
    ("jpeg-quality", ("header", {**GOOD["header"], "jpeg": None, "format": "png"}), {}),
    ("chroma-subsampling", ("header.jpeg.sampling", "gray"), {}),
    ("edge-outline", ("edges.outline", {"sides": ["left"], "inset": 4.0, "width": 1.0, "color": "#ff0000", "delta-e": 40.0}), {"keyline": True}),
    ("metadata-preview", ("metadata.previews", [{"place": "Exif", "width": 160, "height": 120, "difference": 0.0, "same": True, "problem": None}]), {}),
    ("orientation-flag", ("header.orientation", 1), {}),
    ("single-frame", ("header.frames", None), {"animation": False}),
    ("alt-text", None, {"alt": "Image of a lighthouse at dusk"}),
    ("alt-text", None, {"alt": "x" * 250}),
    ("alt-text", None, {"alt": "", "decorative": True}),
    ("color-profile", ("color", {**GOOD["color"], "profile": None, "embedded": False, "source": "none"}), {"profile": "none"}),
    ("color-profile", ("color", {**GOOD["color"], "source": "sRGB chunk", "embedded": False}), {}),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "change", "piece"), PASSES)
def test_near_misses_that_pass(
    rule: str, change: tuple[str, Any] | None, piece: dict[str, Any]
) -> None:
    found = verdict(rule, changed(*change) if change else None, **piece)
    assert found.passed, found.message


def test_a_description_that_is_not_required() -> None:
    judge = RULES["alt-text"]
    assert isinstance(judge, PieceRule)
    silent = replace(PIECE, spec=replace(SPEC, alt=Alt(required=False)), alt=None)
    assert judge.check(Case(piece=silent, measured=GOOD)).passed  # type: ignore[arg-type]


def test_a_tall_picture_as_wide_as_the_box_is_called_out() -> None:
    tall = changed("header.width", 1200)
    tall["header"]["height"] = 1600
    assert "the box is not turned for tall work" in verdict("pixel-size", tall).message


def test_a_turned_picture_is_judged_as_shown() -> None:
    assert "as shown" in verdict("pixel-size", changed("header.stored", [1200, 1600])).message


def test_screen_sizes_carry_the_caution_about_printing() -> None:
    assert "not for printing" in verdict("pixel-size", changed("header.width", 1700)).advice


@pytest.mark.parametrize(("width", "passed"), [(2551, True), (2550, False)])
def test_print_size_at_trim_plus_bleed(width: int, passed: bool) -> None:
    """A4 with 3 mm bleed at 300 ppi: 2551.18 x 3578.74 px (25.4 mm to the inch)."""
    facts = changed("header.width", width)
    facts["header"]["height"] = 3578
    found = verdict("print-size", facts, trim=parse_trim("A4"))
    assert found.passed is passed


def test_print_size_needs_a_trim() -> None:
    assert "no finished size" in verdict("print-size", trim=None).message


@pytest.mark.parametrize("kind", ["missing", "unreadable"])
def test_problems_are_told_by_the_rule_they_belong_to(kind: str) -> None:
    problem: dict[str, Any] = {"problem": {"kind": kind, "text": "there is no file"}}
    for rule in ("file-present", "file-readable"):
        judge = RULES[rule]
        assert isinstance(judge, PieceRule)
        found = judge.check(Case(piece=PIECE, measured=problem))  # type: ignore[arg-type]
        assert found.passed is (rule == "file-present" and kind == "unreadable")


def test_a_picture_saved_again_names_the_commit() -> None:
    facts = changed("git", {"committed": None, "previous": {"commit": "abc1234", "resaved": True}})
    assert "commit abc1234" in verdict("resaved", facts).message


def test_a_copy_whose_piece_cannot_be_read_is_undecided() -> None:
    judge = RULES["matches-piece"]
    assert isinstance(judge, PieceRule)
    thumbnail = replace(PIECE, id="tide--thumbnail", copy_of="tide")
    assert judge.applies(thumbnail)
    assert judge.check(Case(piece=thumbnail, measured=GOOD)).passed is None  # type: ignore[arg-type]


@pytest.mark.parametrize("name", RULES)
def test_every_rule_says_what_holds_in_one_line(name: str) -> None:
    text = RULES[name].text()
    assert re.fullmatch(r"[A-Z].*\.", text)
    assert len(text) < 100
