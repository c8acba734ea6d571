"""The summary in Markdown: what a CI service shows beside a run, safe whatever the names hold."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from pytest_webdeliverable.report.words import code, count, count_points, markdown, untold

if TYPE_CHECKING:
    from collections.abc import Iterator

MOST_BYTES: Final = 900_000
"""Size of the file. GitHub shows up to 1 MiB for each step (its documentation of job summaries)."""
_ROOM: Final = 1_000
"""Bytes kept free for the sentence that says what was left out."""

_TALLY: Final = 60
"""Lost points named one by one."""

_PARTS: Final = {"failed": "To fix", "advised": "Advice", "waived": "Waived"}
_TOTALS: Final = {
    "failed": "to fix",
    "advised": "advised",
    "waived": "waived",
    "skipped": "not judged",
    "passed": "passed",
}


def build_summary(report: dict[str, Any]) -> str:
    """Return the summary, of at most ``MOST_BYTES`` in UTF-8."""
    lines = list(_head(report))
    size = sum(len(line.encode()) + 1 for line in lines)
    findings = list(_findings(report))
    shown = 0
    for finding in findings:
        size += len(finding.encode()) + 1
        if size > MOST_BYTES - _ROOM:
            break
        lines.append(finding)
        shown += 1
    left = sum(line.startswith("- ") for line in findings[shown:])
    if left:
        said = "is 1 more finding" if left == 1 else f"are {left:,} more findings"
        lines += ["", f"There {said}; `index.html` and `report.json` have them all."]
    return "\n".join(lines) + "\n"


def _head(report: dict[str, Any]) -> Iterator[str]:
    totals = report["totals"]
    title = next((one["title"] for one in report["manifests"] if one["title"]), "")
    single = len(report["manifests"]) == 1 and title
    yield f"# Proof: {markdown(title)}" if single else "# Proof"
    yield ""
    numbers = [
        f"{totals[outcome]:,} {word}" for outcome, word in _TOTALS.items() if totals[outcome]
    ]
    yield (
        f"{count(totals['pieces'], 'piece')}, {count(totals['checks'], 'check')}: "
        f"{', '.join(numbers) or 'nothing was checked'}."
    )
    if lacks := untold(totals):
        yield ""
        yield f"**This report is not complete.** {lacks}"
    if totals["score"] is not None:
        yield ""
        yield f"Score: **{totals['score']:g} of {count_points(totals['score-max'])}**.{_lost(report)}"


def _lost(report: dict[str, Any]) -> str:
    lost = [
        f"{mark['points']:g} for {code(mark['rule'])} of {code(mark['piece'])}"
        for manifest in report["manifests"]
        for mark in manifest.get("lost", ())
    ]
    if not lost:
        return ""
    more = f", and {len(lost) - _TALLY:,} more" if len(lost) > _TALLY else ""
    return f" Lost: {', '.join(lost[:_TALLY])}{more}."


def _findings(report: dict[str, Any]) -> Iterator[str]:
    """Yield line by line: all that failed, then advice, then waivers, each by manifest and piece."""
    many = len(report["manifests"]) > 1
    for outcome, head in _PARTS.items():
        started = False
        for manifest in report["manifests"]:
            for piece in manifest["pieces"]:
                checks = [check for check in piece["checks"] if check["outcome"] == outcome]
                if not checks:
                    continue
                if not started:
                    yield from ("", f"## {head}")
                    started = True
                yield from ("", f"### {_name(manifest, piece, many=many)}", "")
                yield from map(_line, checks)


def _name(manifest: dict[str, Any], piece: dict[str, Any], *, many: bool) -> str:
    name = code(piece["id"])
    title = piece.get("title")
    if title:
        name = f"{markdown(title)} ({name})"
    return f"{name} in {code(manifest['manifest'])}" if many else name


def _line(check: dict[str, Any]) -> str:
    message = markdown(check["message"]).removesuffix(".")
    text = f"- {code(check['rule'])}: {message}."
    if check["outcome"] == "waived":
        return f"{text} Waived: {markdown(check.get('reason', ''))}"
    if check.get("points") and check["outcome"] == "failed":
        text += f" **{count_points(check['points'])} lost.**"
    advice = check["advice"]
    return f"{text} {markdown(advice)}" if advice else text
