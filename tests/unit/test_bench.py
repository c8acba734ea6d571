"""What a run leaves as it was, and what it does not keep."""

from __future__ import annotations

import sys

import pictures
import pytest

MANIFEST = '[[piece]]\nfile = "boat.jpg"\nalt = "A boat."\n'


@pytest.fixture
def portfolio(pytester: pytest.Pytester) -> pytest.Pytester:
    pictures.save(pytester.path / "boat.jpg")
    pytester.makefile(".toml", deliverables=MANIFEST)
    return pytester


def test_the_interpreter_is_left_as_it_was(portfolio: pytest.Pytester) -> None:
    before = sys.getswitchinterval()
    portfolio.inline_run("deliverables.toml")
    assert sys.getswitchinterval() == before


def test_begun_and_ended_checks_are_not_kept_but_for_durations(portfolio: pytest.Pytester) -> None:
    seen: list[dict[str, int]] = []

    class Look:
        @pytest.hookimpl(trylast=True)
        def pytest_sessionfinish(self, session: pytest.Session) -> None:
            reporter = session.config.pluginmanager.get_plugin("terminalreporter")
            seen.append({name: len(kept) for name, kept in reporter.stats.items()})

    portfolio.inline_run("deliverables.toml", plugins=[Look()])
    portfolio.inline_run("deliverables.toml", "--durations=3", plugins=[Look()])
    short, long = seen
    assert short[""] == 0
    assert long[""] == 2 * (long["passed"] + long["failed"])
    assert {name: short[name] for name in ("passed", "failed")} == {
        name: long[name] for name in ("passed", "failed")
    }


def test_the_three_reports_of_a_check_share_their_keywords(portfolio: pytest.Pytester) -> None:
    reports: dict[str, set[int]] = {}

    class Look:
        def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
            reports.setdefault(report.nodeid, set()).add(id(report.keywords))
            kept.append(report)

    kept: list[pytest.TestReport] = []
    portfolio.inline_run("deliverables.toml", plugins=[Look()])
    assert reports
    assert {len(found) for found in reports.values()} == {1}
