"""What an outcome carries over from its rule, spec and verdict; each field by itself."""

from __future__ import annotations

import datetime
from dataclasses import replace
from typing import Any

import pytest
from sound_facts import PIECE, RULES, SPEC

from pytest_webdeliverable.judge import broke_off, judge_piece, judge_portfolio, level_of
from pytest_webdeliverable.manifest.model import Manifest, Portfolio, Waiver
from pytest_webdeliverable.rules.base import (
    Case,
    PieceRule,
    PortfolioCase,
    PortfolioRule,
    Verdict,
    fails,
    holds,
    undecided,
)

TODAY = datetime.date(2026, 11, 25)
PROBLEM: Any = {"problem": {"kind": "unreadable", "text": "it is cut short"}}
MISSING: Any = {"problem": {"kind": "missing", "text": "there is no file"}}


class Trial(PieceRule):
    """A rule that says what it was told to."""

    family = "text"
    default_level = "advise"

    def __init__(self, verdict: Verdict) -> None:
        self.verdict = verdict

    def check(self, case: Case) -> Verdict:
        return self.verdict


def judged(verdict: Verdict, *, waive: tuple[Waiver, ...] = (), measured: Any = None, **spec: Any) -> Any:  # fmt: skip
    piece = replace(PIECE, spec=replace(SPEC, **spec), waive=waive)
    return judge_piece(Trial(verdict), Case(piece=piece, measured=measured or {}), TODAY)


def test_an_outcome_repeats_the_verdict() -> None:
    found = judged(fails("two px too wide", "Export it again.", some_px=2), points={"trial": 2.5})
    assert (found.rule, found.family, found.level, found.result) == ("trial", "text", "advise", "advised")  # fmt: skip
    assert (found.message, found.advice) == ("two px too wide", "Export it again.")
    assert (found.evidence, found.points, found.reason) == ({"some-px": 2}, 2.5, "")


def test_an_outcome_that_passed_repeats_the_verdict() -> None:
    found = judged(holds("just right", share=0.5))
    assert (found.result, found.message, found.advice) == ("passed", "just right", "")
    assert (found.evidence, found.points) == ({"share": 0.5}, None)


@pytest.mark.parametrize("given", ["undecided", "problem"])
def test_what_is_not_judged_says_why(given: str) -> None:
    if given == "undecided":
        found = judged(undecided("it is too small"), points={"trial": 4}, levels={"trial": "require"})  # fmt: skip
        words = "it is too small"
    else:
        found = judged(holds("well"), measured=PROBLEM, points={"trial": 4}, levels={"trial": "require"})  # fmt: skip
        words = "it is cut short"
    assert (found.rule, found.family, found.level, found.result) == ("trial", "text", "require", "skipped")  # fmt: skip
    assert (found.message, found.advice, found.points) == (f"not judged: {words}", "", 4)


def test_a_rule_that_raised_an_error_has_failed() -> None:
    found = broke_off(RULES["resaved"], replace(SPEC, points={"resaved": 3}), ZeroDivisionError())
    assert (found.rule, found.family, found.level, found.result) == ("resaved", "history", "advise", "failed")  # fmt: skip
    assert found.message == "the rule broke off (ZeroDivisionError) and judged nothing"
    assert found.advice.startswith("Mend the rule")
    assert found.points == 3


@pytest.mark.parametrize(
    ("gentle", "levels", "level"),
    [
        (False, {}, "require"),
        (True, {}, "advise"),
        (True, {"other": "require"}, "advise"),
        (True, {"strict": "require"}, "require"),
        (False, {"strict": "advise"}, "advise"),
    ],
)
def test_the_level_of_a_gentle_failure(gentle: bool, levels: Any, level: str) -> None:
    class Strict(Trial):
        """It binds."""

        default_level = "require"

    spec = replace(SPEC, levels=levels)
    case = Case(piece=replace(PIECE, spec=spec), measured={})  # type: ignore[typeddict-item]
    found = judge_piece(Strict(replace(fails("no"), gentle=gentle)), case, TODAY)
    assert found.level == level
    assert found.result == ("failed" if level == "require" else "advised")
    assert level_of(Strict(holds("")), spec) == levels.get("strict", "require")


@pytest.mark.parametrize(
    ("days", "passed", "result", "words"),
    [
        (0, False, "waived", "no"),
        (-1, False, "failed", "no (the waiver ended on 2026-11-24)"),
        (0, True, "advised", "yes; the waiver is no longer needed"),
        (-1, True, "advised", "yes; the waiver is no longer needed"),
        (None, False, "waived", "no"),
    ],
)
def test_waivers(days: int | None, passed: bool, result: str, words: str) -> None:
    until = None if days is None else TODAY + datetime.timedelta(days)
    mine = Waiver(rule="trial", reason="it is\nmeant", until=until)
    others = Waiver(rule="other", reason="another", until=None)
    given = replace(holds("yes") if passed else fails("no"), evidence={"px": 1})
    found = judged(given, waive=(others, mine), levels={"trial": "require"})
    assert (found.result, found.message, found.level) == (result, words, "require")
    assert found.reason == (r"it is\nmeant" if result == "waived" else "")
    assert found.evidence == {"px": 1}
    if passed:
        assert found.advice == "Remove the waiver from the manifest."


def test_the_first_waiver_of_a_rule_counts() -> None:
    ended = Waiver(rule="trial", reason="old", until=TODAY - datetime.timedelta(1))
    holding = Waiver(rule="trial", reason="new", until=None)
    assert judged(fails("no"), waive=(holding, ended)).reason == "new"
    assert judged(fails("no"), waive=(ended, holding)).result == "advised"


@pytest.mark.parametrize(
    ("rule", "measured", "result"),
    [
        ("file-present", MISSING, "failed"),
        ("file-present", PROBLEM, "passed"),
        ("file-readable", MISSING, "skipped"),
        ("file-readable", PROBLEM, "failed"),
        ("file-case", MISSING, "skipped"),
        ("file-case", PROBLEM, "skipped"),
    ],
)
def test_who_judges_a_file_that_is_bad(rule: str, measured: Any, result: str) -> None:
    one = RULES[rule]
    assert isinstance(one, PieceRule)
    assert judge_piece(one, Case(piece=PIECE, measured=measured), TODAY).result == result


def test_a_rule_on_all_pieces_has_the_level_and_points_of_their_spec() -> None:
    class Whole(PortfolioRule):
        """It fails."""

        def check(self, case: PortfolioCase) -> Verdict:
            return fails("no", pieces=len(case.measured))

    spec = replace(SPEC, points={"whole": 7}, levels={"whole": "advise"})
    manifest = Manifest(portfolio=Portfolio(), portfolio_spec=SPEC, line=1, pieces=())
    case = PortfolioCase(manifest=manifest, folder={"files": None, "problem": None}, measured=[{}])  # type: ignore[typeddict-item]
    found = judge_portfolio(Whole(), case, spec, TODAY)
    assert (found.rule, found.family, found.level, found.result) == ("whole", "portfolio", "advise", "advised")  # fmt: skip
    assert (found.evidence, found.points) == ({"pieces": 1}, 7)
