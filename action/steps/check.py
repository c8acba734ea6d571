"""Run pytest on the portfolio, and say how it ended: this step never fails by itself."""

from __future__ import annotations

import json
import os
import stat
import sys
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import environment
import runner

if TYPE_CHECKING:
    from collections.abc import Mapping

CANNOT_BE_JUDGED: Final = {
    2: "The run was interrupted before every picture was judged. Start it again.",
    3: "The checker itself failed. Please report it, with the log of this step.",
    4: "pytest cannot use the input path. Give a folder that holds a deliverables.toml, or a manifest.",
    5: "No manifest was found. Put a deliverables.toml beside the pictures, or give its folder as the input path.",
}
"""What to do about an exit code of pytest that is no verdict."""
UNREADABLE: Final = "A manifest cannot be used, or a check crashed. Correct what the log names."
NO_REPORT: Final = "No report was written. Please report it, with the log of this step."
SETTINGS: Final = "[pytest]\ndeliverable_limits =\n    aside_bytes = 1\n"
"""Settings of pytest in place of the portfolio's: strangers' pictures are decoded by processes alone."""


class RefusedError(Exception):
    """An input that cannot be used, with a sentence that says what to do."""


@dataclass(frozen=True, kw_only=True)
class Inputs:
    """Inputs of the action, and the folders made for it."""

    workspace: Path
    portfolio: str
    merge: str
    annotations: bool
    trust: bool
    work: Path
    measurements: Path

    @classmethod
    def read(cls, variables: Mapping[str, str]) -> Inputs:
        """Read them from the step's environment. Raises RefusedError."""
        return cls(
            workspace=Path(variables["GITHUB_WORKSPACE"]).resolve(),
            portfolio=variables["PORTFOLIO"],
            merge=variables.get("MERGE", ""),
            annotations=_yes(variables, "ANNOTATIONS"),
            trust=_yes(variables, "TRUST_CONFTEST"),
            work=Path(variables["WORK"]),
            measurements=Path(variables["MEASUREMENTS"]),
        )

    @property
    def report(self) -> Path:
        """Folder of the report."""
        return self.work / "report"

    @property
    def annotations_file(self) -> Path:
        """File to which the plugin writes annotations, to be printed when its output is over."""
        return self.work / "annotations.txt"


@dataclass(frozen=True, kw_only=True)
class Ending:
    """How the check ended."""

    result: str
    sentence: str
    totals: dict[str, Any]


def main() -> None:
    """Check, print annotations, write the summary, give the outputs."""
    inputs, known = None, set()
    try:
        inputs = Inputs.read(os.environ)
        known = _keep_only_json(inputs.measurements)
        ending = check(inputs)
    except RefusedError as refused:
        ending = Ending(result="error", sentence=str(refused), totals={})
    _print_annotations(inputs, ending)
    measured = inputs is not None and _keep_only_json(inputs.measurements) - known
    counts = {name: str(ending.totals.get(name, "")) for name in ("passed", "failed", "advised")}
    score = ending.totals.get("score")
    runner.give(
        {
            "result": ending.result,
            **counts,
            "score": "" if score is None else str(score),
            "report-path": str(inputs.report) if inputs and inputs.report.is_dir() else "",
            "measured": str(bool(measured)).lower(),
        }
    )
    _write_summary(inputs, ending)


def check(inputs: Inputs) -> Ending:
    """Run pytest, quoting its output, and judge how it ended. Raises RefusedError."""
    targets = reports_in(inputs) if inputs.merge else [find(inputs, inputs.portfolio)]
    command, folder, variables = isolated(inputs, targets)
    if inputs.trust and not inputs.merge:
        runner.say(
            "::warning title=trust-conftest is on::Python code and pytest settings of the portfolio "
            "run in this job. Turn it off where strangers may open pull requests."
        )
        command, folder, variables = trusting(inputs, targets[0])
    code = runner.run_quoted(command, folder, variables)
    return ending_of(code, _totals(inputs.report / "report.json"))


def reports_in(inputs: Inputs) -> list[Path]:
    """Return the reports to merge, one below each folder. Raises RefusedError."""
    folder = find(inputs, inputs.merge)
    try:
        found = sorted(path for path in folder.rglob("report.json") if path.is_file())
    except (OSError, RecursionError):
        raise RefusedError(
            "The folder of reports cannot be walked through: it is too deep."
        ) from None
    if not found:
        raise RefusedError("There is no report to merge. Download the reports of the jobs before.")
    return [find(inputs, str(path)) for path in found]


def find(inputs: Inputs, asked: str) -> Path:
    """Return the folder or file at a path of the checkout. Raises RefusedError."""
    if "[" in asked or "::" in asked:
        raise RefusedError(
            "pytest cannot be given a path that holds [ or ::. Rename the folder, or give the one above."
        )
    try:
        target = (inputs.workspace / asked).resolve(strict=True)
    except (OSError, ValueError):
        raise RefusedError(
            "The input path does not exist. Give it from the root of the checkout, and check out first."
        ) from None
    if not target.is_relative_to(inputs.workspace):
        raise RefusedError("The input path leaves the checkout. Give a folder inside it.")
    return target


def isolated(inputs: Inputs, targets: list[Path]) -> tuple[list[str], Path, dict[str, str]]:
    """Return command, folder and environment of a run that loads nothing of the portfolio's."""
    settings = inputs.work / "pytest.ini"
    settings.write_text(SETTINGS, encoding="utf-8")
    command = [
        *(sys.executable, "-I", "-B", "-X", "utf8", "-m", "pytest"),
        *("-c", str(settings), "--rootdir", str(inputs.workspace), "--noconftest"),
        *("-p", "no:python", "-p", "no:doctest", "-p", "no:unittest"),
        *("-p", "pytest_webdeliverable.plugin", "--collect-in-virtualenv"),
        *_common(inputs),
        *map(str, targets),
    ]
    variables = environment.only(os.environ, environment.SYSTEM)
    variables["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    variables["GITHUB_WORKSPACE"] = str(inputs.workspace)
    return command, inputs.work, variables


def trusting(inputs: Inputs, target: Path) -> tuple[list[str], Path, dict[str, str]]:
    """Return command, folder and environment of a run as the portfolio's owner has set it up."""
    command = [sys.executable, "-X", "utf8", "-m", "pytest", *_common(inputs), str(target)]
    return command, inputs.workspace, environment.without_orders(os.environ)


def _common(inputs: Inputs) -> list[str]:
    return [
        "--continue-on-collection-errors",
        *("-q", "--color=no"),
        f"--deliverable-report={inputs.report}",
        f"--deliverable-annotations={'github' if inputs.annotations else 'none'}",
        *("-o", f"deliverable_annotations_file={inputs.annotations_file}"),
        *("-o", f"cache_dir={inputs.measurements}"),
    ]


def ending_of(code: int, totals: dict[str, Any]) -> Ending:
    """Return the result for an exit code of pytest and the totals of the report."""
    if code == 0 and totals.get("failed") == 0 and totals.get("checks"):
        return Ending(result="passed", sentence="Every picture keeps to its spec.", totals=totals)
    if code == 1 and totals.get("failed"):
        return Ending(
            result="failed",
            sentence="Pictures do not keep to their spec. Export them again from their originals.",
            totals=totals,
        )
    sentence = CANNOT_BE_JUDGED.get(code, UNREADABLE if code == 1 else NO_REPORT)
    return Ending(result="error", sentence=sentence, totals=totals)


def _totals(report: Path) -> dict[str, Any]:
    try:
        totals: dict[str, Any] = json.loads(report.read_text(encoding="utf-8"))["totals"]
    except (OSError, ValueError, KeyError):
        return {}
    return totals


def _print_annotations(inputs: Inputs | None, ending: Ending) -> None:
    if inputs is not None and inputs.annotations and inputs.annotations_file.is_file():
        for line in inputs.annotations_file.read_text(encoding="utf-8").split("\n"):
            if line.startswith("::error ") and "\r" not in line:
                runner.say(line)
    if ending.result == "error":
        runner.say(f"::error title=The portfolio could not be judged::{ending.sentence}")
    else:
        runner.say(ending.sentence)


def _write_summary(inputs: Inputs | None, ending: Ending) -> None:
    text = f"{ending.sentence}\n\n" if ending.result == "error" else ""
    if inputs is not None:
        with suppress(OSError, ValueError):
            text += (inputs.report / "summary.md").read_text(encoding="utf-8")
    runner.summarize(text or ending.sentence)


def _keep_only_json(folder: Path) -> set[Path]:
    """Remove all but plain files of JSON from the cache; return what is left."""
    left = set()
    for above, folders, names in os.walk(folder, topdown=False):
        for path in (Path(above, name) for name in (*folders, *names)):
            kind = path.lstat().st_mode
            if stat.S_ISREG(kind) and path.suffix == ".json":
                left.add(path)
            elif not stat.S_ISDIR(kind):
                path.unlink()
    return left


def _yes(variables: Mapping[str, str], name: str) -> bool:
    value = variables[name].strip().lower()
    if value not in {"true", "false"}:
        asked = name.lower().replace("_", "-")
        raise RefusedError(f'The input {asked} must be "true" or "false".')
    return value == "true"
