"""Every rule on real files made by programs other than Pillow: near misses that pass, and that fail.

Pieces stand in one portfolio, copies and rules on all pieces in small ones beside it, and pytest runs once
on all of them, as a user would run it. What is not under test must hold: each file is also a check that no
other rule cries wolf.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import profiles
import pytest
from portfolios import Portfolio
from written import color_cases, content_cases, folders, size_cases
from written.case import RULES, Case
from written.writers import MissingWriterError

WEB = Path(__file__).parents[1] / "written" / "web.toml"
CASES: tuple[Case, ...] = (
    *size_cases.FILE,
    *size_cases.SIZE,
    *color_cases.COLOR,
    *color_cases.JPEG,
    *content_cases.EDGES,
    *content_cases.HISTORY,
    *content_cases.METADATA,
    *content_cases.MOTION,
    *content_cases.TEXT,
    *content_cases.LEVELS,
)
Checks = dict[str, dict[str, dict[str, Any]]]
"""One manifest: checks by piece and rule."""


@dataclass
class Judged:
    """Checks by manifest, what was expected of each folder, and writers missing by piece or folder."""

    checks: dict[str, Checks] = field(default_factory=dict)
    expected: dict[str, folders.Expected] = field(default_factory=dict)
    missing: dict[str, str] = field(default_factory=dict)
    totals: dict[str, Any] = field(default_factory=dict)


def table(case: Case) -> str:
    """The spec and piece of a case."""
    spec = case.spec if case.spec.startswith("from") else f'from = "web"\n{case.spec}'
    alt = "" if "alt =" in case.piece else f'alt = "{content_cases.ALT}"\n'
    return (
        f"[spec.{case.id}]\n{spec}\n\n[[piece]]\n"
        f'id = "{case.id}"\nfile = "{case.name}"\nspec = "{case.id}"\n{alt}{case.piece}\n\n'
    )


@pytest.fixture(scope="module")
def judged(tmp_path_factory: pytest.TempPathFactory) -> Judged:
    portfolio, result = Portfolio(tmp_path_factory.mktemp("written")), Judged()
    text = WEB.read_text(encoding="utf-8")
    for case in CASES:
        try:
            data = case.make()
        except MissingWriterError as error:
            result.missing[case.id] = str(error)
            continue
        (portfolio.folder / case.name).write_bytes(data)
        text += table(case)
    (portfolio.folder / "press.icc").write_bytes(profiles.matrix_profile(color_cases.P3))
    portfolio.manifest(text)
    for make in folders.FOLDERS:
        folder = portfolio.folder / make.__name__
        folder.mkdir()
        try:
            result.expected[make.__name__] = make(folder)
        except MissingWriterError as error:
            result.missing[make.__name__] = str(error)
    run = portfolio.run("-q", "-p", "no:cacheprovider")
    assert run.report is not None, run.out
    result.totals = run.report["totals"]
    for one in run.report["manifests"]:
        name = one["manifest"].rpartition("/")[0]
        result.checks[name] = {
            piece["id"]: {check["rule"]: check for check in piece["checks"]}
            for piece in one["pieces"]
        }
    return result


def told(check: dict[str, Any]) -> tuple[str, str]:
    """Outcome and message."""
    return check["outcome"], check["message"]


@pytest.mark.parametrize("case", CASES, ids=[case.id for case in CASES])
def test_a_file_by_another_program(case: Case, judged: Judged) -> None:
    if case.id in judged.missing:
        pytest.skip(f"{judged.missing[case.id]} is not installed")
    checks = judged.checks[""][case.id]
    check = checks[case.rule]
    assert told(check) == (case.outcome, check["message"])
    assert case.says in check["message"]
    others = {
        rule: told(other)
        for rule, other in checks.items()
        if rule != case.rule and other["outcome"] not in {"passed", "skipped"}
    }
    assert not others


@pytest.mark.parametrize("name", [make.__name__ for make in folders.FOLDERS])
def test_a_folder_by_another_program(name: str, judged: Judged) -> None:
    if name in judged.missing:
        pytest.skip(f"{judged.missing[name]} is not installed")
    expected = judged.expected[name]
    checks = {
        f"{piece}::{rule}": check
        for piece, rules in judged.checks[name].items()
        for rule, check in rules.items()
    }
    missing = {name.partition("::")[0] for name in expected if name.endswith("::file-present")}
    found = {
        name: told(check)
        for name, check in checks.items()
        if check["outcome"] != "passed"
        and not (name.partition("::")[0] in missing and check["outcome"] == "skipped")
    }
    assert {name: outcome for name, (outcome, _) in found.items()} == {
        name: outcome for name, (outcome, _) in expected.items()
    }, found
    for name, (_, says) in expected.items():
        assert says in found[name][1]


def test_marks_are_those_of_the_rules_that_hold(judged: Judged) -> None:
    if "rubric" in judged.missing:
        pytest.skip(f"{judged.missing['rubric']} is not installed")
    assert (judged.totals["score"], judged.totals["score-max"]) == (3, 6)


def test_skipped_checks_are_those_of_damaged_files(judged: Judged) -> None:
    for piece, checks in judged.checks[""].items():
        if "skipped" in {check["outcome"] for check in checks.values()}:
            assert checks["file-readable"]["outcome"] == "failed", piece


def test_each_rule_passes_and_fails_on_a_file_of_another_program(judged: Judged) -> None:
    if judged.missing:
        pytest.skip(f"not installed: {', '.join(sorted(set(judged.missing.values())))}")
    outcomes: dict[str, set[str]] = {rule: set() for rule in RULES}
    for checks in judged.checks.values():
        for rules in checks.values():
            for rule, check in rules.items():
                outcomes[rule].add(check["outcome"])
    assert not [rule for rule, seen in outcomes.items() if "passed" not in seen]
    assert not [rule for rule, seen in outcomes.items() if not seen & {"failed", "advised"}]
