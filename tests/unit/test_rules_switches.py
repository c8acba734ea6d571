"""Which key of a spec switches which rule on: each flag its own rule, and no other."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from sound_facts import PIECE, RULES, SPEC

from pytest_webdeliverable.manifest.model import (
    Animation,
    Count,
    Edges,
    History,
    Jpeg,
    Portfolio,
    Privacy,
    Spec,
)
from pytest_webdeliverable.rules.base import PieceRule, PortfolioRule

ALWAYS = {"file-present", "file-readable", "file-case"}


def switched_on(spec: Spec, **piece: Any) -> set[str]:
    judged = replace(PIECE, spec=spec, **piece)
    return {
        name
        for name, rule in RULES.items()
        if isinstance(rule, PieceRule) and rule.applies(judged) is True
    }


@pytest.mark.parametrize(
    ("spec", "rules"),
    [
        (Spec(), set()),
        (Spec(jpeg=Jpeg()), set()),
        (Spec(jpeg=Jpeg(process="baseline")), {"jpeg-process"}),
        (Spec(jpeg=Jpeg(quality=90)), {"jpeg-quality"}),
        (Spec(jpeg=Jpeg(chroma=("4:4:4",))), {"chroma-subsampling"}),
        (Spec(edges=Edges()), set()),
        (Spec(edges=Edges(gap=False, outline=False, margin=False)), set()),
        (Spec(edges=Edges(gap=True)), {"edge-gap"}),
        (Spec(edges=Edges(outline=True)), {"edge-outline"}),
        (Spec(edges=Edges(margin=True)), {"edge-margin"}),
        (Spec(blank=True), set()),
        (Spec(blank=False), {"blank-picture"}),
        (Spec(history=History()), set()),
        (Spec(history=History(resaved=True, cropped=True, enlarged=True)), set()),
        (Spec(history=History(resaved=False)), {"resaved"}),
        (Spec(history=History(cropped=False)), {"cropped-after-compression"}),
        (Spec(history=History(enlarged=False)), {"enlarged"}),
        (Spec(privacy=Privacy()), set()),
        (Spec(privacy=Privacy(location=True, device=True, preview=True)), set()),
        (Spec(privacy=Privacy(location=False)), {"metadata-location"}),
        (Spec(privacy=Privacy(device=False)), {"metadata-device"}),
        (Spec(privacy=Privacy(preview=False)), {"metadata-preview"}),
        (Spec(credit=()), set()),
        (Spec(credit=("creator",)), {"metadata-credit"}),
        (Spec(orientation_flag=True), set()),
        (Spec(orientation_flag=False), {"orientation-flag"}),
        (Spec(transparency=True), set()),
        (Spec(transparency=False), {"transparency"}),
        (Spec(animation=False), {"single-frame"}),
        (Spec(animation=Animation()), set()),
        (Spec(animation=Animation(frames=3)), {"single-frame"}),
        (Spec(animation=Animation(flashes=0.0)), {"flash"}),
        (Spec(overshoot=2, fill="within"), set()),
    ],
)
def test_a_key_switches_its_own_rule_on(spec: Spec, rules: set[str]) -> None:
    assert switched_on(spec) == ALWAYS | rules


def test_a_full_spec_switches_on_all_but_what_a_piece_adds() -> None:
    every = {name for name, rule in RULES.items() if isinstance(rule, PieceRule)}
    assert every - switched_on(SPEC) == {"matches-piece", "matches-original"}
    assert switched_on(Spec(), copy_of="tide") == ALWAYS | {"matches-piece"}
    assert switched_on(Spec(), original="print.tif") == ALWAYS | {"matches-original"}


@pytest.mark.parametrize(
    ("portfolio", "rules"),
    [
        (Portfolio(), set()),
        (Portfolio(images="images"), {"stray-file"}),
        (Portfolio(total_weight=1), {"total-weight"}),
        (Portfolio(pieces=Count()), {"piece-count"}),
    ],
)
def test_a_key_of_the_portfolio_switches_its_own_rule_on(
    portfolio: Portfolio, rules: set[str]
) -> None:
    always = {"duplicate-file", "near-duplicate", "name-clash"}
    on = {
        name
        for name, rule in RULES.items()
        if isinstance(rule, PortfolioRule) and rule.applies(portfolio) is True
    }
    assert on == always | rules


def test_rules_that_only_advise() -> None:
    """Statistics and matters of design advise: the spec's levels make them binding."""
    assert {name for name, rule in RULES.items() if rule.default_level == "advise"} == {
        "edge-margin",
        "resaved",
        "cropped-after-compression",
        "enlarged",
        "chroma-subsampling",
        "near-duplicate",
    }


def test_a_weight_of_all_files_looks_at_them_without_reading_pictures() -> None:
    rule = RULES["total-weight"]
    assert rule.needs_files is True
    assert not rule.needs
    others = {name for name, other in RULES.items() if other.needs_files}
    assert others == {"total-weight"}


@pytest.mark.parametrize(
    ("name", "expected"),
    [("Unsafe", "unsafe"), ("TwoWords", "two-words"), ("Bits16", "bits-1-6"), ("AB", "a-b")],
)
def test_a_rules_name_is_its_class_in_small_letters(name: str, expected: str) -> None:
    """A hyphen before each capital and digit but the first letter."""
    assert type(name, (PieceRule,), {}).name == expected
    assert type(name, (PieceRule,), {"name": "its-own"}).name == "its-own"


def test_a_rule_without_words_has_an_empty_line() -> None:
    silent = type("Silent", (PieceRule,), {"__doc__": None})
    assert silent.text() == ""
    spoken = type("Spoken", (PieceRule,), {"__doc__": "\n  It holds.\n\n  Because.\n"})
    assert spoken.text() == "It holds."
