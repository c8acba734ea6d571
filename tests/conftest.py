"""Fixtures that every folder of tests may use."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from portfolios import Portfolio

if TYPE_CHECKING:
    from pathlib import Path

pytest_plugins = ["pytester"]


@pytest.fixture
def portfolio(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Portfolio:
    """An empty portfolio in a folder of its own, to run pytest in as a user would."""
    for name in ("PYTEST_ADDOPTS", "GITHUB_ACTIONS", "CI"):
        monkeypatch.delenv(name, raising=False)
    return Portfolio(tmp_path)
