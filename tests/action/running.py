"""Runs the harness on an action or on a job of a workflow."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

REPOSITORY = Path(__file__).parents[2]
ACTION = REPOSITORY / "action"
HARNESS = Path(__file__).parent / "harness"

NEEDED = ("PATH", "HOME", "LANG", "TMPDIR")
FOR_PACKAGES = ("PIP_INDEX_URL", "PIP_EXTRA_INDEX_URL", "PIP_FIND_LINKS", "PIP_CERT")
"""Variables of a runner itself; those of tests do not belong to it."""


@dataclass
class Done:
    """What a job left behind."""

    status: str
    steps: list[dict[str, Any]]
    outputs: dict[str, str]
    env: dict[str, str]
    path: list[str]
    artifacts: dict[str, list[str]]
    summaries: list[str]
    issues: list[dict[str, str]]
    lost: int
    masks: list[str]
    states: list[list[str]]
    commands: list[dict[str, Any]]
    log: list[str]

    def step(self, name: str) -> dict[str, Any]:
        """A step by its id or by the first line of its name."""
        return next(step for step in self.steps if name in {step["id"], step["label"]})

    def errors(self) -> list[dict[str, str]]:
        """Errors shown on the page of the run."""
        return [issue for issue in self.issues if issue["kind"] == "error"]


@dataclass
class Runner:
    """One machine: a workspace, a folder for temporary files, and caches that outlive a run."""

    bundle: Path
    home: Path
    event: str = "push"
    env: dict[str, str] = field(default_factory=dict)
    given: dict[str, dict[str, str]] = field(default_factory=dict)
    more: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.workspace, self.temp = self.fresh("workspace"), self.fresh("temp")
        self.caches = self.fresh("caches")

    def fresh(self, name: str) -> Path:
        """A new folder on the machine."""
        folder = self.home / name
        folder.mkdir()
        return folder

    def run(self, action: Path, **inputs: str) -> Done:
        """Run a composite action, with underscores in names of inputs turned into dashes."""
        named = {name.replace("_", "-"): value for name, value in inputs.items()}
        return self._run({"action": str(action), "inputs": named})

    def run_job(self, workflow: Path, job: str, **matrix: str) -> Done:
        """Run one job of a workflow, for one cell of its matrix."""
        return self._run({"workflow": str(workflow), "job": job, "matrix": matrix})

    def _run(self, what: dict[str, Any]) -> Done:
        own = {name: os.environ[name] for name in NEEDED + FOR_PACKAGES if name in os.environ}
        scenario = {
            **what,
            **self.more,
            "event": self.event,
            "workspace": str(self.workspace),
            "temp": str(self.temp),
            "caches": str(self.caches),
            "repository": str(REPOSITORY),
            "python": sys.executable,
            "runner-env": own,
            "env": self.env,
            "given": self.given,
        }
        file = self.home / "scenario.json"
        file.write_text(json.dumps(scenario), encoding="utf-8")
        done = subprocess.run(
            ["node", self.bundle, file], capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr
        found = json.loads(done.stdout)
        return Done(**{"outputs": {}, **found})
