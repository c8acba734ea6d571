"""The harness, built once, and an environment that the action's own step installed once."""

from __future__ import annotations

import os
import shutil
import subprocess
from typing import TYPE_CHECKING

import pytest
from running import ACTION, HARNESS, REPOSITORY, Runner

if TYPE_CHECKING:
    from pathlib import Path

    from running import Done


@pytest.fixture(scope="session")
def bundle(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The harness as one script: Node cannot load the official parsers as they are."""
    node = shutil.which("node")
    esbuild = HARNESS / "node_modules" / ".bin" / "esbuild"
    if node is None or os.name == "nt":
        pytest.skip("the harness needs Node 20 and bash")
    if not esbuild.exists():
        pytest.skip("run `npm ci --ignore-scripts` in tests/action/harness first")
    target = tmp_path_factory.mktemp("harness") / "runner.cjs"
    options = ("--bundle", "--platform=node", "--format=cjs", "--log-level=warning")
    subprocess.run(
        [esbuild, HARNESS / "src" / "main.js", *options, f"--outfile={target}"], check=True
    )
    return target


@pytest.fixture
def runner(bundle: Path, tmp_path: Path) -> Runner:
    """A runner with an empty workspace."""
    return Runner(bundle, tmp_path)


@pytest.fixture(scope="session")
def whole_run(bundle: Path, tmp_path_factory: pytest.TempPathFactory) -> Done:
    """The example portfolio through every step of the action, nothing taken from elsewhere."""
    runner = Runner(bundle, tmp_path_factory.mktemp("whole"))
    shutil.copytree(REPOSITORY / "example_portfolio", runner.workspace / "example_portfolio")
    return runner.run(ACTION, path="example_portfolio", report_name="report of example/whole")


@pytest.fixture
def action(runner: Runner, whole_run: Done) -> Runner:
    """A runner whose action finds the environment that ``whole_run`` has installed."""
    installed = next(step for step in whole_run.steps if step["id"] == "install")["outputs"]
    assert installed, whole_run.log
    runner.given = {
        "install": {
            **installed,
            "work": str(runner.fresh("work")),
            "measurements": str(runner.temp / "measurements"),
        }
    }
    return runner
