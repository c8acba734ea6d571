"""Turn a rule's verdict into an outcome: levels, waivers, and files that cannot be judged.

Pure: the same facts, spec, piece and day give the same outcome.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from pytest_webdeliverable.display import display_name

if TYPE_CHECKING:
    import datetime
    from collections.abc import Callable, Iterable

    from pytest_webdeliverable.manifest.model import Level, Spec, Waiver
    from pytest_webdeliverable.rules.base import (
        Case,
        PieceRule,
        PortfolioCase,
        PortfolioRule,
        Rule,
        Verdict,
    )

Result = Literal["passed", "failed", "advised", "waived", "skipped"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of one check; ``points`` are the marks it stands for, None without a rubric."""

    rule: str
    family: str
    level: Level
    result: Result
    message: str
    advice: str = ""
    evidence: dict[str, Any] = field(default_factory=dict)
    reason: str = ""
    """Reason of the waiver, where one holds."""
    points: float | None = None


def level_of(rule: Rule, spec: Spec) -> Level:
    """Level of a rule under a spec."""
    return spec.levels.get(rule.name, rule.default_level)


def judge_piece(rule: PieceRule, case: Case, today: datetime.date) -> Outcome:
    """Judge one rule on one piece."""
    problem = case.measured.get("problem")
    if problem and not rule.judges_problems:
        return _skipped(rule, case.spec, problem["text"])
    if problem and problem["kind"] == "missing" and rule.name != "file-present":
        return _skipped(rule, case.spec, problem["text"])
    return _weigh(rule, case.spec, case.piece.waive, lambda: rule.check(case), today)


def judge_portfolio(
    rule: PortfolioRule, case: PortfolioCase, spec: Spec, today: datetime.date
) -> Outcome:
    """Judge one rule on the portfolio; its level comes from the portfolio's own spec."""
    waivers = case.manifest.portfolio.waive
    return _weigh(rule, spec, waivers, lambda: rule.check(case), today)


def broke_off(rule: Rule, spec: Spec, error: Exception) -> Outcome:
    """Return the outcome of a rule that raised an error: it cannot have passed."""
    message = f"the rule broke off ({type(error).__name__}) and judged nothing"
    advice = "Mend the rule, or report it to those who made it."
    return _not_judged(rule, spec, "failed", message, advice)


def _skipped(rule: Rule, spec: Spec, reason: str) -> Outcome:
    return _not_judged(rule, spec, "skipped", f"not judged: {reason}")


def _not_judged(rule: Rule, spec: Spec, result: Result, message: str, advice: str = "") -> Outcome:
    return Outcome(
        rule=rule.name,
        family=rule.family,
        level=level_of(rule, spec),
        result=result,
        message=message,
        advice=advice,
        points=spec.points.get(rule.name),
    )


def _weigh(
    rule: Rule,
    spec: Spec,
    waivers: Iterable[Waiver],
    check: Callable[[], Verdict],
    today: datetime.date,
) -> Outcome:
    verdict = check()
    if verdict.passed is None:
        return _skipped(rule, spec, verdict.message)
    level = level_of(rule, spec)
    if verdict.gentle and rule.name not in spec.levels:
        level = "advise"
    message, advice, reason = verdict.message, verdict.advice, ""
    waiver = next((one for one in waivers if one.rule == rule.name), None)
    result: Result
    if verdict.passed:
        result = "passed"
        if waiver is not None:
            result = "advised"
            message = f"{message}; the waiver is no longer needed"
            advice = "Remove the waiver from the manifest."
    elif waiver is not None and (waiver.until is None or today <= waiver.until):
        result, reason = "waived", display_name(waiver.reason)
    else:
        result = "failed" if level == "require" else "advised"
        if waiver is not None:
            message = f"{message} (the waiver ended on {waiver.until})"
    return Outcome(
        rule=rule.name,
        family=rule.family,
        level=level,
        result=result,
        message=message,
        advice=advice,
        evidence=verdict.evidence,
        reason=reason,
        points=spec.points.get(rule.name),
    )
