"""Gather the outcomes of a run and write the report, once, in the order of the manifests."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import pytest

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.options import limits, report_folder, workers
from pytest_webdeliverable.report.build import build_report
from pytest_webdeliverable.report.write import ReportError, write_report

LONGEST: Final = 4096
"""Characters of the report's path; as many as Linux has for one."""


class ReportCollector:
    """Registered only where a report is asked for, and never in a worker process."""

    def __init__(self, config: pytest.Config) -> None:
        self._config = config
        self._folder: Path | None = report_folder(config)
        self._payloads: list[dict[str, Any]] = []
        self._said = ""

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep what a check sent along; called in the main process, also under xdist."""
        payload = getattr(report, "deliverable", None)
        if payload is not None:
            self._payloads.append(payload)

    @pytest.hookimpl(trylast=True)
    def pytest_sessionfinish(self) -> None:
        """Write the report, whatever the outcome of the tests; a full disk does not change it."""
        if self._folder is None or self._config.option.collectonly:
            return
        report = build_report(self._payloads)
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
        else:
            self._said = f"report written to {display_name(str(self._folder), LONGEST)}"

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        """Say where the report is."""
        if self._said:
            terminalreporter.write_line(self._said)
