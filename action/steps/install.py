"""Make an environment of the action's own: locked packages, and the plugin from this checkout."""

from __future__ import annotations

import hashlib
import os
import re
import sys
import tempfile
import venv
from pathlib import Path
from typing import Final

import environment
import runner

ACTION: Final = Path(__file__).resolve().parents[1]
CHECKOUT: Final = ACTION.parent

INSTALL: Final = ("install", "--quiet", "--no-input", "--disable-pip-version-check")
ASK: Final = (
    "Look for the reason in the log of this step: often the package index could not be reached, or the "
    "input python-version is older than 3.11."
)
NOT_IN_ARTIFACT_NAMES: Final = re.compile(r'[":<>|*?\\/\x00-\x1f\x7f]')
"""Characters that the upload of artifacts refuses."""


def main() -> None:
    """Install, and tell the later steps where everything is."""
    temp = Path(os.environ["RUNNER_TEMP"])
    work = Path(tempfile.mkdtemp(prefix="webdeliverable-", dir=temp))
    key = _measurements_key(os.environ["PORTFOLIO"], os.environ["REPORT_NAME"])
    run = f"{os.environ['GITHUB_RUN_ID']}-{os.environ['GITHUB_RUN_ATTEMPT']}"
    runner.give(
        {
            "work": str(work),
            "python": str(_install(work)),
            "report-name": artifact_name(os.environ["REPORT_NAME"]),
            # The same folder in every run: the runner finds a cache by its path, too.
            "measurements": str(temp / "webdeliverable-measurements"),
            "measurements-key": f"{key}{run}",
            "measurements-keys": key,
        }
    )


def _install(work: Path) -> Path:
    """Make the environment in this folder; return its Python."""
    folder = work / "venv"
    on_windows = os.name == "nt"
    venv.create(folder, symlinks=not on_windows)
    python = folder / ("Scripts/python.exe" if on_windows else "bin/python")
    locks = ("requirements.txt", "requirements-build.txt")
    locked = [option for lock in locks for option in ("--requirement", str(ACTION / lock))]
    for module in (
        ("ensurepip", "--default-pip"),
        ("pip", *INSTALL, "--require-hashes", "--only-binary=:all:", *locked),
        ("pip", *INSTALL, "--no-deps", "--no-index", "--no-build-isolation", str(CHECKOUT)),
    ):
        variables = environment.only(os.environ, environment.SYSTEM | environment.PACKAGES)
        if runner.run_quoted([str(python), "-I", "-m", *module], work, variables):
            runner.say(f"::error title=The checker cannot be installed::{ASK}")
            sys.exit(1)
    return python


def artifact_name(asked: str) -> str:
    """Return a name that the upload takes: of a folder such as ``albums/spring`` too."""
    return NOT_IN_ARTIFACT_NAMES.sub("-", asked).strip() or "deliverable-report"


def _measurements_key(portfolio: str, report_name: str) -> str:
    """Name what the measurements depend on: the system, this code, and the job of a matrix."""
    digest = hashlib.sha256(f"{sys.platform}\0{portfolio}\0{report_name}".encode())
    for path in sorted((CHECKOUT / "pytest_webdeliverable").rglob("*.py")):
        digest.update(path.read_bytes())
    return f"webdeliverable-{digest.hexdigest()[:32]}-"
