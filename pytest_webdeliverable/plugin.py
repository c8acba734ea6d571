"""What pytest loads: its hooks, each a line or two that calls something named.

Nothing heavy is imported here; the rest loads when a manifest is met.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Generator
    from pathlib import Path


def pytest_addhooks(pluginmanager: pytest.PytestPluginManager) -> None:
    """Add the plugin's own hooks."""
    from pytest_webdeliverable import hookspecs

    pluginmanager.add_hookspecs(hookspecs)


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the plugin's options and their ini twins."""
    from pytest_webdeliverable.options import add_options

    add_options(parser)


def pytest_configure(config: pytest.Config) -> None:
    """Register the marks, and the reports that are asked for."""
    from pytest_webdeliverable.options import (
        annotations_file,
        limits,
        register_marks,
        report_folder,
        wants_annotations,
    )

    register_marks(config)
    if config.getini("deliverable_limits"):
        limits(config)  # a mistake in them is told before anything is collected
    if hasattr(config, "workerinput") or config.getoption("deliverable_plan"):
        return
    if wants_annotations(config):
        from pytest_webdeliverable.annotations import Annotator

        def is_check(nodeid: str) -> bool:
            from pytest_webdeliverable import selection

            return selection.is_check(config, nodeid)

        annotator = Annotator(config, is_check, annotations_file(config))
        config.pluginmanager.register(annotator, "webdeliverable-annotations")
    if report_folder(config) is not None:
        from pytest_webdeliverable.report.collector import ReportCollector

        config.pluginmanager.register(ReportCollector(config), "webdeliverable-report")


def pytest_cmdline_main(config: pytest.Config) -> int | None:
    """Answer the options that print something and exit."""
    if config.getoption("deliverable_rules"):
        from pytest_webdeliverable.listing import print_rules

        print_rules(config)
        return 0
    if config.getoption("deliverable_schema"):
        from pytest_webdeliverable.listing import print_schema

        print_schema(config)
        return 0
    if config.getoption("deliverable_start"):
        from pytest_webdeliverable.start import start

        return start(config)
    if config.getoption("deliverable_report") and any(one.endswith(".json") for one in config.args):
        from pytest_webdeliverable.merging import merge, named_reports

        if reports := named_reports(config):
            return merge(config, reports)
    if config.getoption("deliverable_plan") and hasattr(config.option, "dist"):
        # pytest-xdist collects in its workers only, and there is nothing to spread.
        config.option.dist, config.option.tx = "no", []
    return None


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Keep pytest from walking in circles through linked folders, and from falling into deep ones."""
    from pytest_webdeliverable.options import is_too_deep

    if is_too_deep(collection_path, config.rootpath):
        return True
    if not collection_path.is_symlink():
        return None
    from pytest_webdeliverable.links import is_endless

    return True if is_endless(collection_path, config) else None


def pytest_collect_directory(path: Path, parent: pytest.Collector) -> pytest.Collector | None:
    """Refuse a folder that cannot be read, where its name would act in what pytest prints of that."""
    if path.name.isprintable() and "::" not in path.name and "##[" not in path.name:
        return None
    if os.access(path, os.R_OK | os.X_OK):
        return None
    from pytest_webdeliverable.links import LockedFolder

    return LockedFolder.under_plain_name(parent, path)


def pytest_collect_file(file_path: Path, parent: pytest.Collector) -> pytest.File | None:
    """Collect manifests by name, or any TOML file named on the command line."""
    from pytest_webdeliverable.options import is_manifest

    if not is_manifest(file_path, parent):
        return None
    from pytest_webdeliverable.nodes import manifest_node

    return manifest_node(file_path, parent)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what the files named by an option do not call for."""
    named = config.getoption("deliverable_files")
    if named is not None:
        from pytest_webdeliverable.selection import select_by_files

        select_by_files(config, items, named)


@pytest.hookimpl(trylast=True)
def pytest_collection_finish(session: pytest.Session) -> None:
    """Tell the bench which items will run, so that nothing is measured for the others."""
    from pytest_webdeliverable.options import BENCH

    bench = session.config.stash.get(BENCH, None)
    if bench is not None:
        from pytest_webdeliverable.nodes import checks_of
        from pytest_webdeliverable.summary_lines import name_pieces

        bench.plan(checks_of(session.items))
        name_pieces(session)


@pytest.hookimpl(tryfirst=True)
def pytest_runtestloop(session: pytest.Session) -> bool | None:
    """Show the plan in place of running checks; errors of collection are left to pytest."""
    if session.testsfailed or not session.config.getoption("deliverable_plan"):
        return None
    from pytest_webdeliverable.listing import print_plan

    print_plan(session)
    return True


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item,
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Send the outcome of a check along with pytest's report, also through xdist."""
    report = yield
    if report.when == "call" and (payload := getattr(item, "payload", None)) is not None:
        report.deliverable = payload  # type: ignore[attr-defined]
        item.payload = None  # type: ignore[attr-defined]
    if (known := getattr(item, "told_keywords", None)) == report.keywords:
        report.keywords = known  # pytest keeps all three reports of a check to the end
    elif hasattr(item, "told_keywords"):
        item.told_keywords = report.keywords
    return report


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    """Stop measuring ahead; files that belong to no piece are no error."""
    from pytest_webdeliverable.options import BENCH

    named = session.config.getoption("deliverable_files")
    if named is not None and exitstatus == pytest.ExitCode.NO_TESTS_COLLECTED:
        session.exitstatus = pytest.ExitCode.OK
    bench: Any = session.config.stash.get(BENCH, None)
    if bench is not None:
        bench.close()


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Close with the pieces that have findings, and the score."""
    reports = (report for kept in terminalreporter.stats.values() for report in kept)
    payloads = [report.deliverable for report in reports if hasattr(report, "deliverable")]
    if payloads:
        from pytest_webdeliverable.summary_lines import write_summary

        write_summary(terminalreporter, payloads)
