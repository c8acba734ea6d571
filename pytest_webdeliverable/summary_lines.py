"""Lines of pytest's terminal: one for each piece as it runs, and the findings and the score at the end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import pytest

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.nodes import CheckItem
from pytest_webdeliverable.report.build import in_order, lost_points, score_of

if TYPE_CHECKING:
    from collections.abc import Iterable

MOST_LINES: Final = 40
"""Pieces in the closing table; who has more findings reads the report."""
NARROWEST: Final = 20
"""Characters of a message that are worth showing."""
LONGEST: Final = 1200
"""Characters of a message in that table, as in the report; another's report may hold any."""
_LINES: Final = "webdeliverable-lines"
_HEAD: Final = ("piece", "failed", "advice", "first finding")


class PieceLines:
    """Begins a line for each piece where pytest would begin one for each file.

    The line names the piece while its picture is being measured. Never in a worker process, and only
    at the verbosity at which pytest itself names files.
    """

    def __init__(self, items: Iterable[pytest.Item], reporter: Any) -> None:
        self._pieces = {
            item.nodeid: item.parent.name for item in items if isinstance(item, CheckItem)
        }
        self._reporter = reporter
        self._drops = not reporter.config.getoption("durations", None)
        self._shown: str | None = None

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_logstart(self, nodeid: str) -> None:
        """Begin the line of a piece before pytest's own reporter looks whether the file changed."""
        reporter = self._reporter
        if reporter.showlongtestinfo or not reporter.showfspath:
            return
        name = self._pieces.get(nodeid)
        group = None if name is None else nodeid.rpartition("::")[0]
        if group == self._shown:
            return
        self._shown = group
        if reporter.currentfspath is not None:
            # Not the present file, so that the reporter ends its line and names the file anew.
            reporter.currentfspath = ""
        if name is not None:
            reporter.write_fspath_result(nodeid, "")
            reporter.write(f"{name} ")

    @pytest.hookimpl(trylast=True)
    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Let go of reports that a check was begun and ended: they tell nothing but how long it took.

        The terminal would keep two of them for each check to the end of the run, 1 kB together.
        """
        kept = self._reporter.stats.get("")
        if self._drops and kept and kept[-1] is report and report.nodeid in self._pieces:
            kept.pop()


def name_pieces(session: pytest.Session) -> None:
    """Have the terminal name the pieces of this process; under xdist there are none in the main one."""
    manager = session.config.pluginmanager
    reporter = manager.get_plugin("terminalreporter")
    if reporter is None or hasattr(session.config, "workerinput"):
        return
    if manager.has_plugin(
        _LINES
    ):  # pytest-xdist says twice that all is collected, to run it in a loop
        manager.unregister(name=_LINES)
    manager.register(PieceLines(session.items, reporter), _LINES)


def write_summary(reporter: pytest.TerminalReporter, payloads: Iterable[dict[str, Any]]) -> None:
    """Write the pieces with findings and the score; nothing where all is well and there is no rubric."""
    pieces = _by_piece(payloads)
    width = reporter.config.get_terminal_writer().fullwidth
    found = finding_lines(pieces, width if reporter.isatty else 0)
    if found and reporter.verbosity >= -1:
        reporter.write_sep("=", "pieces with findings")
        for line in found:
            reporter.write_line(line)
    scores = score_lines(pieces)
    if scores:
        reporter.write_sep("=", "score")
        for line in scores:
            reporter.write_line(line)


def _by_piece(payloads: Iterable[dict[str, Any]]) -> dict[tuple[str, str], list[dict[str, Any]]]:
    """Return the checks of each piece, by manifest and id, in the manifest's order."""
    pieces: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for payload in in_order(payloads):
        pieces.setdefault((payload["manifest"], payload["id"]), []).append(payload["check"])
    return pieces


def _findings(checks: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return what failed, then what is advised."""
    listed = list(checks)
    return [
        check for result in ("failed", "advised") for check in listed if check["outcome"] == result
    ]


def finding_lines(pieces: dict[tuple[str, str], list[dict[str, Any]]], width: int) -> list[str]:
    """Return one line for each piece with findings, below a heading; none where there are none.

    ``pieces`` are checks by manifest and id; ``width`` 0 does not cut the messages.
    """
    found = [(name, checks) for name, checks in pieces.items() if _findings(checks)]
    if not found:
        return []
    one_manifest = len({manifest for (manifest, _), _ in found}) == 1
    rows = [_HEAD]
    for (manifest, piece), checks in found[:MOST_LINES]:
        findings = _findings(checks)
        failed = sum(check["outcome"] == "failed" for check in findings)
        rows.append(
            (
                piece if one_manifest else f"{display_name(manifest)}::{piece}",
                str(failed or ""),
                str(len(findings) - failed or ""),
                display_name(f"{findings[0]['rule']}: {findings[0]['message']}", LONGEST),
            )
        )
    first = max(len(row[0]) for row in rows)
    lines = [f"{row[0]:<{first}}  {row[1]:>6}  {row[2]:>6}  {row[3]}" for row in rows]
    if width:
        least = first + NARROWEST
        lines = [_cut(line, max(width - 1, least)) for line in lines]
    if len(found) > MOST_LINES:
        lines.append(f"... and {len(found) - MOST_LINES} more")
    return lines


def _cut(line: str, width: int) -> str:
    return line if len(line) <= width else f"{line[: width - 3]}..."


def score_lines(pieces: dict[tuple[str, str], list[dict[str, Any]]]) -> list[str]:
    """Return the score of each manifest with a rubric, each lost point named below it."""
    manifests: dict[str, list[tuple[str, list[dict[str, Any]]]]] = {}
    for (manifest, piece), checks in pieces.items():
        manifests.setdefault(manifest, []).append((piece, checks))
    lines: list[str] = []
    for manifest, listed in manifests.items():
        score, most = score_of(check for _, checks in listed for check in checks)
        if score is None or most is None:
            continue
        lost = lost_points(listed)
        lines.append(f"{display_name(manifest)}: {score:g} of {most:g} points")
        lines += [
            f"{-one['points']:>6g}  {one['piece']}: {display_name(one['rule'])}" for one in lost
        ]
    return lines
