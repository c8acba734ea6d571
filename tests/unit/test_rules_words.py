"""What sentences of rules pick out, where changing the code left every other test green."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import pytest
from sound_facts import GOOD, PIECE, RULES, SPEC

from pytest_webdeliverable.fit import expected_size
from pytest_webdeliverable.manifest.model import Manifest, Portfolio
from pytest_webdeliverable.manifest.quantities import parse_trim
from pytest_webdeliverable.rules import copies, metadata, registry, size
from pytest_webdeliverable.rules.base import Case, PieceRule, PortfolioCase, PortfolioRule


def test_the_heaviest_files_come_first() -> None:
    rule = RULES["total-weight"]
    assert isinstance(rule, PortfolioRule)
    portfolio = Portfolio(total_weight=1000)
    sizes = [300, 100, 900, 500, 700]
    facts = [copy.deepcopy(GOOD) | {"file": GOOD["file"] | {"bytes": size}} for size in sizes]
    pieces = tuple(replace(PIECE, id=f"p{size}", file=f"p{size}.jpg") for size in sizes)
    manifest = Manifest(portfolio=portfolio, portfolio_spec=SPEC, line=1, pieces=pieces)
    found = rule.check(
        PortfolioCase(manifest=manifest, folder={"files": [], "problem": None}, measured=facts)  # type: ignore[arg-type]
    )
    assert not found.passed
    places = [found.advice.index(f"p{size}.jpg") for size in (900, 700, 500)]
    assert places == sorted(places)
    assert "p300" not in found.advice


def test_pictures_alike_are_looked_for_in_every_portfolio() -> None:
    rule = RULES["near-duplicate"]
    assert isinstance(rule, PortfolioRule)
    assert rule.applies(Portfolio()) is True


@pytest.mark.parametrize(
    ("items", "words"),
    [
        (["a"], "a"),
        (["a", "b", "a"], "a, b"),
        (["a", "b", "c", "d"], "a, b, c, d"),
        (["a", "b", "c", "d", "e"], "a, b, c, d and 1 more"),
    ],
)
def test_four_findings_are_named_and_the_others_counted(items: list[str], words: str) -> None:
    assert metadata._listed(items) == words


@pytest.mark.parametrize(
    ("crop", "sides"),
    [
        ([0.0, 0.0, 1.0, 1.0], ""),
        ([-0.1, 0.0, 1.0, 1.0], "left"),
        ([0.0, -0.1, 1.0, 1.0], "top"),
        ([0.2, 0.2, 1.1, 0.9], "right"),
        ([0.2, 0.2, 0.9, 1.1], "bottom"),
        ([-0.1, -0.1, 1.1, 1.1], "left, top, right, bottom"),
    ],
)
def test_a_copy_that_shows_more_names_the_sides(crop: list[float], sides: str) -> None:
    words = copies._part_shown(crop)
    assert (
        words.endswith(f"something beyond its edge ({sides})") if sides else "beyond" not in words
    )


@pytest.mark.parametrize(
    ("ours", "theirs", "dates"),
    [
        ("2026-01-02T00:00:00", "2026-03-04T00:00:00", ("2026-01-02", "2026-03-04")),
        ("2026-03-04T00:00:00", "2026-01-02T00:00:00", None),
        ("2026-01-02T00:00:00", "2026-01-02T00:00:00", None),
        (None, "2026-01-02T00:00:00", None),
        ("2026-01-02T00:00:00", None, None),
    ],
)
def test_an_original_that_changed_later_is_dated(
    ours: str | None, theirs: str | None, dates: tuple[str, str] | None
) -> None:
    measured: Any = {"git": {"committed": ours}}
    original: Any = {"git": {"committed": theirs}}
    assert copies._dates(Case(piece=PIECE, measured=measured, original=original)) == dates
    assert copies._dates(Case(piece=PIECE, measured={}, original=original)) is None  # type: ignore[typeddict-item]


def test_a_square_is_not_called_tall() -> None:
    rule = RULES["pixel-size"]
    assert isinstance(rule, PieceRule)
    spec = replace(SPEC, box=(1600, 1200), fill="touch", overshoot=1)
    for sides, tall in (((1600, 1600), False), ((1200, 1600), True)):
        facts: Any = copy.deepcopy(GOOD)
        facts["header"] |= {"width": sides[0], "height": sides[1], "stored": list(sides)}
        piece = replace(PIECE, spec=spec, trim=None)
        found = rule.check(Case(piece=piece, measured=facts))
        assert not found.passed
        assert ("tall" in found.message) is tall, found.message


@pytest.mark.parametrize(
    ("frames", "found", "words"),
    [
        (1, 3, "export a single picture"),
        (2, 3, "export it with fewer frames"),
        (None, 2, "export a single picture"),
    ],
)
def test_fewer_frames_are_asked_of_an_animation(frames: int | None, found: int, words: str) -> None:
    spec = replace(SPEC, animation=replace(SPEC.animation, frames=frames))  # type: ignore[type-var]
    measured = copy.deepcopy(GOOD)
    measured["header"]["frames"] = found
    rule = RULES["single-frame"]
    assert isinstance(rule, PieceRule)
    verdict = rule.check(Case(piece=replace(PIECE, spec=spec), measured=measured))
    assert words in verdict.advice
    assert f"holds {found} {'pictures' if frames != 2 else 'frames'}" in verdict.message


def test_a_density_that_is_none_has_no_axes_that_differ() -> None:
    unknown: Any = [{"place": "JFIF", "x": None, "y": None}]
    assert size._density_problem(unknown, SPEC) == ""
    half: Any = [{"place": "PNG", "x": 72.0, "y": None}]
    assert size._density_problem(half, SPEC) == ": the two axes differ"


def test_rules_of_others_need_a_family_and_a_name() -> None:
    rule = RULES["pixel-size"]
    assert registry([rule])["pixel-size"] is rule

    class Shapeless(PieceRule):
        family = "shape"  # type: ignore[assignment]

    with pytest.raises(TypeError, match="needs a family"):
        registry([Shapeless()])  # type: ignore[abstract]


def test_a_side_is_never_asked_to_have_no_pixels() -> None:
    """1000 : 1 in a box of 100 x 100 px: a tenth of a pixel, so one."""
    spec = replace(SPEC, box=(100, 100), fill="touch", overshoot=0)
    wide, tall = (expected_size(spec, parse_trim(text)) for text in ("1000 x 1 in", "1 x 1000 in"))
    assert (str(wide), str(tall)) == ("100 x 1 px", "1 x 100 px")
