"""Levels, waivers and files that cannot be judged."""

from __future__ import annotations

import datetime
from dataclasses import replace
from typing import Any, ClassVar

import pytest

from pytest_webdeliverable.judge import Outcome, judge_piece, judge_portfolio
from pytest_webdeliverable.manifest.model import Manifest, Piece, Portfolio, Spec, Waiver
from pytest_webdeliverable.rules.base import (
    Case,
    Family,
    PieceRule,
    PortfolioCase,
    PortfolioRule,
    Verdict,
    fails,
    holds,
    undecided,
)

TODAY = datetime.date(2026, 11, 25)
SPEC = Spec(name="screen")


class Trial(PieceRule):
    """A rule that says what it was told to."""

    family: ClassVar[Family] = "text"

    def __init__(self, verdict: Verdict) -> None:
        self.verdict = verdict

    def check(self, case: Case) -> Verdict:
        return self.verdict


def judged(
    verdict: Verdict,
    *,
    waive: Waiver | None = None,
    measured: Any = None,
    **spec: Any,
) -> Outcome:
    piece = Piece(
        id="a",
        file="a.jpg",
        line=1,
        spec=replace(SPEC, **spec),
        waive=(waive,) if waive else (),
    )
    return judge_piece(Trial(verdict), Case(piece=piece, measured=measured or {}), TODAY)


GOOD, BAD = holds("well"), fails("badly", "mend it")


def waiver(until: datetime.date | None = None, rule: str = "trial") -> Waiver:
    return Waiver(rule=rule, reason="it is meant", until=until)


def test_the_name_comes_from_the_class() -> None:
    assert Trial.name == "trial"
    assert Trial.text() == "A rule that says what it was told to."


@pytest.mark.parametrize(
    ("verdict", "level", "result"),
    [
        (GOOD, "require", "passed"),
        (GOOD, "advise", "passed"),
        (BAD, "require", "failed"),
        (BAD, "advise", "advised"),
        (undecided("no facts"), "require", "skipped"),
    ],
)
def test_levels(verdict: Verdict, level: str, result: str) -> None:
    outcome = judged(verdict, levels={"trial": level})
    assert (outcome.result, outcome.level) == (result, level)


def test_a_gentle_failure_advises_unless_the_spec_says_otherwise() -> None:
    gentle = replace(BAD, gentle=True)
    assert judged(gentle).result == "advised"
    assert judged(gentle, levels={"trial": "require"}).result == "failed"


@pytest.mark.parametrize(
    ("until", "result"),
    [
        (None, "waived"),
        (TODAY, "waived"),
        (TODAY + datetime.timedelta(1), "waived"),
        (TODAY - datetime.timedelta(1), "failed"),
    ],
)
def test_a_waiver_holds_through_its_last_day(until: datetime.date | None, result: str) -> None:
    outcome = judged(BAD, waive=waiver(until))
    assert outcome.result == result
    assert (outcome.reason == "it is meant") is (result == "waived")
    assert ("the waiver ended on 2026-11-24" in outcome.message) is (result == "failed")


def test_a_waiver_of_another_rule_does_not_help() -> None:
    assert judged(BAD, waive=waiver(rule="other")).result == "failed"


def test_a_waiver_that_is_no_longer_needed_is_told() -> None:
    outcome = judged(GOOD, waive=waiver())
    assert outcome.result == "advised"
    assert "no longer needed" in outcome.message


@pytest.mark.parametrize("kind", ["missing", "unreadable"])
def test_other_rules_are_skipped_with_the_reason(kind: str) -> None:
    outcome = judged(BAD, measured={"problem": {"kind": kind, "text": "cut short"}})
    assert outcome.result == "skipped"
    assert "cut short" in outcome.message


def test_points_are_those_of_the_spec() -> None:
    assert judged(GOOD, points={"trial": 5}).points == 5
    assert judged(GOOD).points is None


class Whole(PortfolioRule):
    """A portfolio rule that fails."""

    def check(self, case: PortfolioCase) -> Verdict:
        return BAD


@pytest.mark.parametrize(("waive", "result"), [((), "failed"), ((waiver(rule="whole"),), "waived")])
def test_portfolio_rules_have_waivers_of_their_own(waive: tuple[Waiver, ...], result: str) -> None:
    manifest = Manifest(portfolio=Portfolio(waive=waive), portfolio_spec=SPEC, line=1, pieces=())
    case = PortfolioCase(manifest=manifest, folder={"files": None, "problem": None}, measured=[])
    assert judge_portfolio(Whole(), case, SPEC, TODAY).result == result
