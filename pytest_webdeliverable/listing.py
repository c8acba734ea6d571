"""Answer the options that print something: the rules, the manifest's schema, the plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from pytest_webdeliverable.display import display_name, print_line
from pytest_webdeliverable.nodes import CheckGroup, CheckItem, bench_of
from pytest_webdeliverable.options import report_folder

if TYPE_CHECKING:
    from pytest_webdeliverable.manifest.model import Manifest, Piece


def print_rules(config: pytest.Config) -> None:
    """Print every rule with its family, level by default and one line of why."""
    rules = bench_of(config).rules.values()
    width = max(len(rule.name) for rule in rules)
    for rule in rules:
        words = f"{rule.name:<{width}}  {rule.family:<9}  {rule.default_level:<7}  {rule.text()}"
        print_line(words)


def print_schema(config: pytest.Config) -> None:
    """Print the manifest's JSON Schema, with the rules of other plugins in it."""
    from pytest_webdeliverable.schemas import made_manifest_schema

    print(made_manifest_schema(bench_of(config).rules), end="")


def print_plan(session: pytest.Session) -> None:
    """Print the plan of the collected pieces, and write it as ``plan.md`` beside a report.

    Raises pytest.UsageError where that cannot be written.
    """
    from pytest_webdeliverable.plan import CAUTION, plan_markdown, plan_rows, plan_text

    config = session.config
    planned = [
        (path, manifest, plan_rows(pieces)) for path, manifest, pieces in _collected(session)
    ]
    lines: list[str] = []
    for path, _, rows in planned:
        lines += ["", display_name(path), *plan_text(rows)] if rows else []
    lines += ["", CAUTION] if lines else []
    folder = report_folder(config)
    if folder is not None and planned:
        from pytest_webdeliverable.atomic import replace_file

        try:
            folder.mkdir(parents=True, exist_ok=True)
            replace_file(folder / "plan.md", plan_markdown(planned).encode())
        except OSError as error:
            raise pytest.UsageError(f"the plan cannot be written: {error.strerror}") from None
        lines += ["", f"plan written to {display_name(str(folder / 'plan.md'))}"]
    reporter = config.pluginmanager.get_plugin("terminalreporter")
    for line in lines:
        print_line(line) if reporter is None else reporter.write_line(line)


def _collected(session: pytest.Session) -> list[tuple[str, Manifest, list[Piece]]]:
    """Return each manifest with those of its pieces that were selected, in their order."""
    groups: dict[str, dict[CheckGroup, None]] = {}
    for item in session.items:
        if isinstance(item, CheckItem):
            groups.setdefault(item.parent.parent.shown, {})[item.parent] = None
    return [
        (path, next(iter(found)).manifest, [group.piece for group in found if group.piece])
        for path, found in groups.items()
    ]
