"""Fixtures that every folder of tests may use."""

from __future__ import annotations

import os
import shutil
import tempfile
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings
from portfolios import Portfolio

if TYPE_CHECKING:
    from pathlib import Path

pytest_plugins = ["pytester"]

# A loaded machine takes its time: what may take how long is measured as processor time, where it matters.
settings.register_profile(
    "any machine", settings(), deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("any machine")


def pytest_configure(config: pytest.Config) -> None:
    """Keep the key of kept facts out of the home of whoever runs the tests."""
    folder = tempfile.mkdtemp(prefix="deliverable-home-")
    config.add_cleanup(lambda: shutil.rmtree(folder, ignore_errors=True))
    os.environ["XDG_CACHE_HOME"] = folder


@pytest.fixture
def portfolio(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Portfolio:
    """An empty portfolio in a folder of its own, to run pytest in as a user would."""
    for name in ("PYTEST_ADDOPTS", "GITHUB_ACTIONS", "CI"):
        monkeypatch.delenv(name, raising=False)
    return Portfolio(tmp_path)
