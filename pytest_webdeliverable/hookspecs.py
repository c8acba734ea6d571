"""Hooks for a portfolio's conftest.py or for a package of a school or company."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from pytest_webdeliverable.rules.base import Rule


@pytest.hookspec
def pytest_webdeliverable_rules() -> list[Rule]:  # type: ignore[empty-body]
    """Return more rules; one of the name of a built-in rule takes its place."""


@pytest.hookspec
def pytest_webdeliverable_specs() -> dict[str, dict[str, Any]]:  # type: ignore[empty-body]
    """Return more built-in specs: tables by name, as a manifest would write them."""


@pytest.hookspec
def pytest_webdeliverable_report(report: dict[str, Any]) -> None:
    """Take the complete report, as it stands in report.json."""
