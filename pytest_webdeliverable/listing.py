"""Print the rules."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pytest_webdeliverable.nodes import bench_of

if TYPE_CHECKING:
    import pytest


def print_rules(config: pytest.Config) -> None:
    """Print every rule with its family, level by default and one line of why."""
    rules = bench_of(config).rules.values()
    width = max(len(rule.name) for rule in rules)
    for rule in rules:
        print(f"{rule.name:<{width}}  {rule.family:<9}  {rule.default_level:<7}  {rule.text()}")
