"""Gather the outcomes of a run and write the report, once, in the order of the manifests."""

from __future__ import annotations

from fnmatch import fnmatch
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import pytest

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.options import limits, report_folder, workers
from pytest_webdeliverable.report.build import build_report
from pytest_webdeliverable.report.words import untold
from pytest_webdeliverable.report.write import ReportError, write_report

if TYPE_CHECKING:
    from collections.abc import Iterable

LONGEST: Final = 4096
"""Characters of the report's path; as many as Linux has for one."""


class ReportCollector:
    """Registered only where a report is asked for, and never in a worker process."""

    def __init__(self, config: pytest.Config) -> None:
        self._config = config
        self._folder: Path | None = report_folder(config)
        self._payloads: list[dict[str, Any]] = []
        self._expected: set[str] = set()
        """Checks that the run is to make, by the names of their tests."""
        self._told: set[str] = set()
        self._unread: set[str] = set()
        self._said = ""

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        """Keep a manifest that cannot be used; the run may go on with the others."""
        file = Path(report.nodeid).name
        patterns = ("*.toml", *self._config.getini("deliverable_manifest"))
        if report.failed and any(fnmatch(file, pattern) for pattern in patterns):
            self._unread.add(report.nodeid)

    @pytest.hookimpl(trylast=True)
    def pytest_collection_finish(self, session: pytest.Session) -> None:
        """Note which checks are to be made."""
        self._expect(item.nodeid for item in session.items)

    @pytest.hookimpl(optionalhook=True)
    def pytest_xdist_node_collection_finished(self, ids: list[str]) -> None:
        """Note the same of a process of pytest-xdist, which may end before it has made them."""
        self._expect(set(ids) - self._expected)

    def _expect(self, ids: Iterable[str]) -> None:
        from pytest_webdeliverable.selection import is_check

        self._expected.update(one for one in ids if is_check(self._config, one))

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep what a check sent along; called in the main process, also under xdist."""
        payload = getattr(report, "deliverable", None)
        if payload is not None:
            self._payloads.append(payload)
        if payload is not None or report.skipped:
            self._told.add(report.nodeid)

    @pytest.hookimpl(trylast=True)
    def pytest_sessionfinish(self, session: pytest.Session) -> None:
        """Write the report, whatever the outcome of the tests; a full disk does not change it."""
        if self._folder is None or self._config.option.collectonly:
            return
        lost = {"no-result": len(self._expected - self._told), "unread": len(self._unread)}
        report = build_report(self._payloads, lost)
        self._config.hook.pytest_webdeliverable_report(report=report)
        homes = {
            one["manifest"]: (Path(one["home"][0]), Path(one["home"][1]))
            for one in self._payloads
            if "home" in one
        }
        try:
            write_report(self._folder, report, homes, workers(self._config), limits(self._config))
        except ReportError as error:
            self._said = str(error)
        except KeyboardInterrupt:  # pytest would show how it came here
            session.exitstatus = pytest.ExitCode.INTERRUPTED
            self._said = "the report is not written: it was interrupted"
        else:
            self._said = f"report written to {display_name(str(self._folder), LONGEST)}"
            if lacks := untold(report["totals"]):
                self._said = f"{self._said}, not complete: {lacks}"

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        """Say where the report is."""
        if self._said:
            terminalreporter.write_line(self._said)
