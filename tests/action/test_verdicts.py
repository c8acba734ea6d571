"""Green only where every picture keeps to its spec; red, with a sentence, everywhere else."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from running import ACTION, REPOSITORY

if TYPE_CHECKING:
    from running import Done, Runner

EXAMPLE = REPOSITORY / "example_portfolio"


def test_the_example_is_green_through_every_step(whole_run: Done):
    assert whole_run.status == "success", "\n".join(whole_run.log)
    assert not any(step.get("given") for step in whole_run.steps)
    outputs = whole_run.outputs
    assert (outputs["result"], outputs["failed"]) == ("passed", "0")
    assert int(outputs["passed"]) > 200
    assert whole_run.errors() == []
    assert {"report.json", "index.html", "summary.md"} <= set(
        whole_run.artifacts["deliverable-report"]
    )
    assert whole_run.summaries
