"""Annotations of a workflow run: the worst findings, each at its piece's line in the manifest.

The syntax and the limits are those of GitHub's runner (docs.github.com, "Workflow commands"; the
limits of ten annotations of a kind in a step and of 4096 characters in a message are constants of
its source, ExecutionContext.cs).
"""

from __future__ import annotations

import os
import re
import unicodedata
from bisect import bisect
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pytest_webdeliverable.display import display_name

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    import pytest

SHOWN: Final = 8
"""Annotations of pieces at most; the runner keeps ten errors of a step, and one line more is ours."""

LONGEST: Final = 4096
"""UTF-16 units of a message that the runner keeps."""

_TELLING: Final = (
    frozenset({"metadata-location", "flash"}),  # can hurt someone once it is published
    frozenset({"file-present", "file-readable"}),  # hides what else may be wrong
)
"""Rules whose failures are shown before all others, in this order."""

_ESCAPES: Final = (("%", "%25"), ("\r", "%0D"), ("\n", "%0A"))
_PROPERTY_ESCAPES: Final = ((":", "%3A"), (",", "%2C"))


def escape(text: str, *, of_property: bool = False) -> str:
    """Return ``text`` as it may stand in a workflow command, whoever wrote it.

    Control characters but the line feed, format characters (those that turn the reading direction
    among them) and surrogates are dropped; ``::`` and ``##[`` are broken up; what is longer than a
    message may be is cut. A value before the second ``::`` is a property, which neither a colon nor
    a comma may end.
    """
    plain = "".join(
        " " if one == "\t" or unicodedata.category(one) in {"Zl", "Zp"} else one
        for one in text
        if one in {"\n", "\t"} or unicodedata.category(one) not in {"Cc", "Cf", "Cs"}
    )
    plain = re.sub(r":(?=:)", ": ", plain)
    plain = re.sub(r"#(?=#\[)", "# ", plain)
    plain = _cut(plain)
    for raw, escaped in _ESCAPES + (_PROPERTY_ESCAPES if of_property else ()):
        plain = plain.replace(raw, escaped)
    return plain


def _cut(text: str) -> str:
    """Cut to the longest message, counted as the runner counts: in UTF-16 units."""
    data = text.encode("utf-16-le")
    if len(data) <= LONGEST * 2:
        return text
    return data[: (LONGEST - 3) * 2].decode("utf-16-le", "ignore") + "..."


@dataclass(slots=True)
class Finding:
    """What is wrong with one piece, or with a manifest: one annotation."""

    file: str
    line: int
    title: str
    messages: list[str] = field(default_factory=list)
    rules: set[str] = field(default_factory=set)
    places: list[int] = field(default_factory=list)
    """Place of each message's rule; checks may end in another order in several processes."""

    def add(self, rule: str, place: int, message: str) -> None:
        """Add what one rule found, in the order of the rules."""
        self.rules.add(rule)
        at = bisect(self.places, place)
        self.places.insert(at, place)
        self.messages.insert(at, message)

    def weight(self) -> tuple[int, int, str, int]:
        """Sort key: manifests that cannot be read, then what is telling, then the most failures."""
        if not self.rules:
            return (-1, 0, self.file, self.line)
        first = next((n for n, rules in enumerate(_TELLING) if rules & self.rules), len(_TELLING))
        return (first, -len(self.rules), self.file, self.line)

    def command(self) -> str:
        """Return the workflow command."""
        place = f"file={escape(self.file, of_property=True)},line={self.line}"
        title = escape(self.title, of_property=True)
        return f"::error {place},title={title}::{escape(chr(10).join(self.messages))}"


def commands(findings: Iterable[Finding]) -> list[str]:
    """Return the workflow commands for the most telling findings, and one line for the others."""
    ranked = sorted(findings, key=Finding.weight)
    lines = [finding.command() for finding in ranked[:SHOWN]]
    if (more := len(ranked) - SHOWN) > 0:
        lines.append(f"::error title=and {more} more::The report lists all of them.")
    return lines


class Annotator:
    """Gathers failures in the main process, and prints annotations when the run is over."""

    def __init__(
        self, config: pytest.Config, is_check: Callable[[str], bool], file: Path | None = None
    ) -> None:
        self._root = config.rootpath
        self._is_check = is_check
        self._file = file
        self._findings: dict[tuple[str, str], Finding] = {}

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        """Keep a manifest that cannot be read, with the line of its first problem."""
        if not report.failed:
            return
        text = str(report.longrepr)
        manifest = report.nodeid
        if not os.path.exists(self._root / manifest):  # noqa: PTH110 - False also for odd names
            manifest = manifest.rpartition("::")[0] or manifest
        own = re.escape(display_name(Path(manifest).name))
        place = re.match(rf"(?:[^\n]*/)?{own}:(\d+): ", text)
        line = int(place[1]) if place else 1
        title = "the manifest cannot be used"
        self._findings[manifest, ""] = Finding(self._shown(manifest), line, title, [text])

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep a failure, under its piece."""
        payload: dict[str, Any] | None = getattr(report, "deliverable", None)
        if payload is None:
            self._keep_crash(report)
        elif payload["check"]["outcome"] == "failed":
            check = payload["check"]
            finding = self._finding(payload["manifest"], payload["id"], payload["line"])
            measured = check["message"].removesuffix(".")
            text = f"{check['rule']}: {measured}. {check['advice']}"
            finding.add(check["rule"], payload["place"][1], text)

    def _keep_crash(self, report: pytest.TestReport) -> None:
        """Keep a check that ended without a verdict: a fault of the plugin or of another's rule."""
        if not report.failed or not self._is_check(report.nodeid):
            return
        manifest, piece, rule = report.nodeid.rsplit("::", 2)
        finding = self._finding(manifest, piece, (report.location[1] or 0) + 1)
        finding.add(rule, -1, f"{rule}: could not be judged; see the log of this run")

    def _finding(self, manifest: str, piece: str, line: int) -> Finding:
        new = Finding(self._shown(manifest), line, display_name(piece))
        return self._findings.setdefault((manifest, piece), new)

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        """Print the annotations, or write them to the file that was asked for."""
        lines = commands(self._findings.values())
        if self._file is not None:
            try:
                self._file.write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")
            except OSError as error:
                where = display_name(str(self._file))
                reason = f"the annotations cannot be written to {where}: {error.strerror}"
                terminalreporter.write_line(reason)
            return
        terminalreporter.ensure_newline()
        for line in lines:
            terminalreporter.write_line(line)

    def _shown(self, manifest: str) -> str:
        """Path of a manifest from the checkout's root, where the runner looks for it."""
        path = Path(os.path.normpath(self._root / manifest))  # it may lie beside the root
        workspace = os.environ.get("GITHUB_WORKSPACE")
        if workspace and path.is_relative_to(workspace):
            return path.relative_to(workspace).as_posix()
        return manifest
