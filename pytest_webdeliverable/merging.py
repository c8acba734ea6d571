"""Make one report of several: the ``report.json`` files that the command line names."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from pytest_webdeliverable.display import display_name, print_line
from pytest_webdeliverable.options import limits, report_folder, workers

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

SUFFIX = ".json"


def named_reports(config: pytest.Config) -> list[Path]:
    """Return the reports to merge: where a report is asked for, the ``.json`` files named.

    Raises pytest.UsageError where something else is named beside them.
    """
    if config.args_source is not pytest.Config.ArgsSource.ARGS or report_folder(config) is None:
        return []
    reports = [one for one in config.args if one.endswith(SUFFIX)]
    if reports and len(reports) < len(config.args):
        raise pytest.UsageError(
            "reports to merge and things to check cannot be named in one run; merge in a run of its own"
        )
    return [config.invocation_params.dir / one for one in reports]


def merge(config: pytest.Config, paths: list[Path]) -> int:
    """Write one report of several, print what it finds, return the exit code of a run that had it all.

    Pictures of the proof sheet are read where the manifests stand: from ``--rootdir``, or else from the
    folder in which pytest is called.
    """
    from pytest_webdeliverable.report.merge import MergeError, merge_reports, read_report
    from pytest_webdeliverable.report.words import untold
    from pytest_webdeliverable.report.write import ReportError, write_report

    folder = report_folder(config)
    assert folder is not None, "asked for"
    try:
        report = merge_reports(map(read_report, paths))
    except MergeError as error:
        raise pytest.UsageError(str(error)) from None
    config.hook.pytest_webdeliverable_report(report=report)
    root = config.invocation_params.dir / (config.option.rootdir or "")
    homes = {name: (root, (root / name).parent) for name in _names(report)}
    try:
        write_report(folder, report, homes, workers(config), limits(config))
    except ReportError as error:
        raise pytest.UsageError(str(error)) from None
    for line in _lines(report):
        print_line(line)
    merged = f"{len(paths)} {'report' if len(paths) == 1 else 'reports'} merged"
    print_line(f"{merged} into {display_name(str(folder))}")
    if not report["totals"]["checks"]:
        return pytest.ExitCode.NO_TESTS_COLLECTED
    failed = report["totals"]["failed"] or untold(report["totals"])
    return pytest.ExitCode.TESTS_FAILED if failed else pytest.ExitCode.OK


def _names(report: dict[str, Any]) -> Iterator[str]:
    return (manifest["manifest"] for manifest in report["manifests"])


def _lines(report: dict[str, Any]) -> Iterator[str]:
    from pytest_webdeliverable.report.build import OUTCOMES
    from pytest_webdeliverable.report.words import count, untold
    from pytest_webdeliverable.summary_lines import finding_lines, score_lines

    pieces = {
        (manifest["manifest"], piece["id"]): piece["checks"]
        for manifest in report["manifests"]
        for piece in manifest["pieces"]
    }
    yield from finding_lines(pieces, 0)
    yield from score_lines(pieces)
    totals = report["totals"]
    numbers = [f"{totals[name]:,} {name}" for name in reversed(OUTCOMES) if totals[name]]
    yield f"{count(totals['pieces'], 'piece')}: {', '.join(numbers) or 'no check'}"
    if lacks := untold(totals):
        yield f"not complete: {lacks}"
