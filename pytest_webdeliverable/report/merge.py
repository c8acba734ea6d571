"""Merge reports of several runs into one: pure, and the same for the same reports in any order.

A run may have checked other manifests than the next, other pieces of one manifest, or other rules of one
piece. What two runs both checked must have ended alike.
"""

from __future__ import annotations

import json
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.report.build import UNTOLD, build_report
from pytest_webdeliverable.report.conform import problem_of
from pytest_webdeliverable.rules import BUILT_IN
from pytest_webdeliverable.schemas import load_schema

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

MOST_BYTES: Final = 128 * 1024 * 1024
"""Size of a report that is read: 10,000 pieces, which a manifest may have, of 12 kB each."""
_ORDER: Final = {rule.name: place for place, rule in enumerate(BUILT_IN)}
_SUMS: Final = frozenset({"checks", "score", "score-max"})
"""What is made anew for the whole."""


class MergeError(Exception):
    """Reports that cannot be read or do not belong together, with a sentence that says why."""


def read_report(path: Path) -> dict[str, Any]:
    """Read a ``report.json`` that anybody may have written. Raises MergeError."""
    shown = display_name(str(path))
    if path.exists() and not path.is_file():  # a pipe would be waited for
        raise MergeError(f"{shown} is not a regular file")
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
        if len(data) > MOST_BYTES:
            raise MergeError(f"{shown} is larger than a report may be")
        report = json.loads(data, parse_constant=_refuse, parse_float=_finite)
    except OSError as error:
        raise MergeError(f"{shown} cannot be read: {error.strerror}") from None
    except (ValueError, RecursionError):
        raise MergeError(f"{shown} is not a report: it is no sound JSON") from None
    problem = problem_of(report, _schema())
    if problem is not None:
        raise MergeError(f"{shown} is not a report of this version: {problem}")
    found: dict[str, Any] = report
    return found


@cache
def _schema() -> dict[str, Any]:
    return load_schema("report")


def _refuse(text: str) -> Any:
    raise ValueError(f"{text} is not JSON")


def _finite(text: str) -> float:
    number = float(text)
    if number - number != 0:
        raise ValueError("a number is too large")
    return number


def merge_reports(reports: Iterable[dict[str, Any]]) -> dict[str, Any]:
    """Return one report of all, with totals, scores and lost points of the whole.

    Raises MergeError where two of them contradict each other.
    """
    manifests: dict[str, list[dict[str, Any]]] = {}
    untold = dict.fromkeys(UNTOLD, 0)
    for report in reports:
        for name in UNTOLD:
            untold[name] += report["totals"].get(name, 0)
        for manifest in report["manifests"]:
            manifests.setdefault(manifest["manifest"], []).append(manifest)
    return build_report(
        (payload for name, found in manifests.items() for payload in _payloads(name, found)), untold
    )


def _payloads(name: str, manifests: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Yield one manifest's checks as a run tells of them."""
    title = max(manifest["title"] for manifest in manifests)
    pieces: dict[str, list[dict[str, Any]]] = {}
    for manifest in manifests:
        for piece in manifest["pieces"]:
            pieces.setdefault(piece["id"], []).append(piece)
    # In the order of one run; where there are several, by line, and the portfolio last.
    ids = list(pieces)
    if len(manifests) > 1:
        ids.sort(key=lambda one: ("file" not in pieces[one][0], pieces[one][0].get("line", 0), one))
    for place, found in enumerate(map(pieces.__getitem__, ids)):
        shown = f"{display_name(found[0]['id'])} of {display_name(name)}"
        record = _record(found, shown)
        for number, check in enumerate(_checks(found, shown)):
            yield {
                "manifest": name,
                "title": title,
                "id": record["id"],
                "place": [place, number],
                "check": check,
                "piece": record,
            }


def _record(found: list[dict[str, Any]], shown: str) -> dict[str, Any]:
    """Return what is known of a piece; runs that judge fewer rules may have measured less."""
    record: dict[str, Any] = {}
    measured: dict[str, Any] = {}
    for piece in sorted(found, key=lambda one: len(one["measured"])):
        if piece.get("sha256") != found[0].get("sha256"):
            raise MergeError(f"{shown} is not the same file in all reports: check one commit")
        record |= {key: value for key, value in piece.items() if key not in _SUMS}
        measured = {**piece["measured"], **measured, **piece["measured"]}
    return {**record, "measured": measured}


def _checks(found: list[dict[str, Any]], shown: str) -> list[dict[str, Any]]:
    """Return each rule's check once, in the order of the rules where several runs give them."""
    checks: dict[str, dict[str, Any]] = {}
    for piece in found:
        for check in piece["checks"]:
            if checks.setdefault(check["rule"], check) != check:
                rule = display_name(check["rule"])
                raise MergeError(f"{shown} is judged by {rule} twice, with different outcomes")
    listed = list(checks.values())
    if len(found) > 1:
        listed.sort(key=lambda check: (_ORDER.get(check["rule"], len(_ORDER)), check["rule"]))
    return listed
