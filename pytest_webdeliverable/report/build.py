"""Build the report from the outcomes of checks: pure, and the same for the same outcomes."""

from __future__ import annotations

from math import fsum
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from pytest_webdeliverable._version import __version__
from pytest_webdeliverable.report.words import VERDICTS

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

SCHEMA_VERSION: Final = 1
"""Version of the report's layout; a change that a reader must know of raises it."""
UNTOLD: Final = ("no-result", "unread")
"""Totals of what a report cannot tell: checks whose result is lost, and manifests that were of no use."""
_NOTHING: Final = MappingProxyType[str, int]({})
OUTCOMES: Final = ("passed", "failed", "advised", "waived", "skipped")
EARNS: Final = frozenset({"passed", "advised", "waived"})
"""Outcomes that earn their points."""
_WORST: Final = tuple(VERDICTS)


def build_report(
    payloads: Iterable[dict[str, Any]], untold: Mapping[str, int] = _NOTHING
) -> dict[str, Any]:
    """Return the report of a run, manifests by path, pieces and checks in the manifest's order.

    One check of each piece brings along the record; where that check was lost, only the id is known.
    ``untold`` counts what the run was to check and did not, by the names of ``UNTOLD``.
    """
    manifests: dict[str, dict[str, Any]] = {}
    for payload in in_order(payloads):
        manifest = manifests.setdefault(
            payload["manifest"],
            {"manifest": payload["manifest"], "title": payload["title"], "pieces": {}},
        )
        none = {"id": payload["id"], "measured": {}}
        piece = manifest["pieces"].setdefault(payload["place"][0], {"record": none, "checks": []})
        piece["record"] = payload.get("piece", piece["record"])
        piece["checks"].append(payload["check"])
    listed = [_marked(manifest) for manifest in manifests.values()]
    return {
        "schema": SCHEMA_VERSION,
        "tool": {"name": "pytest-webdeliverable", "version": __version__},
        "totals": {
            **_totals(listed),
            **{name: untold[name] for name in UNTOLD if untold.get(name)},
        },
        "manifests": listed,
    }


def in_order(payloads: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return what checks told in the order of their manifests, each check once.

    pytest may be told to make them more than once (``--dist each``, ``--keep-duplicates``). Then the worst
    outcome counts, as it does for the run.
    """
    told: dict[tuple[str, int, int], dict[str, Any]] = {}
    for payload in payloads:
        key = (payload["manifest"], *payload["place"])
        known = told.setdefault(key, payload)
        if known is not payload:
            both = (known, payload)
            worst = min(both, key=lambda one: _WORST.index(one["check"]["outcome"]))
            told[key] = {**known, **payload, "check": worst["check"]}
    return [told[key] for key in sorted(told)]


def _marked(manifest: dict[str, Any]) -> dict[str, Any]:
    """Return a manifest as it stands in the report, with scores where there is a rubric."""
    pieces = [
        {**piece["record"], "checks": piece["checks"], **_score(piece["checks"])}
        for piece in manifest["pieces"].values()
    ]
    score = _score(check for piece in pieces for check in piece["checks"])
    if score:
        score["lost"] = lost_points((piece["id"], piece["checks"]) for piece in pieces)
    return {**manifest, **score, "pieces": pieces}


def _score(checks: Iterable[dict[str, Any]]) -> dict[str, Any]:
    earned, most = score_of(checks)
    return {} if earned is None else {"score": earned, "score-max": most}


def _totals(manifests: list[dict[str, Any]]) -> dict[str, Any]:
    pieces = [piece for manifest in manifests for piece in manifest["pieces"]]
    checks = [check for piece in pieces for check in piece["checks"]]
    totals: dict[str, Any] = {
        "pieces": sum("file" in piece for piece in pieces),
        "checks": len(checks),
        **dict.fromkeys(OUTCOMES, 0),
    }
    for check in checks:
        totals[check["outcome"]] += 1
    score, most = score_of(checks)
    return {**totals, "score": score, "score-max": most}


def score_of(checks: Iterable[dict[str, Any]]) -> tuple[float | None, float | None]:
    """Return points earned and points there are; None, None without a rubric."""
    marked = [check for check in checks if "points" in check]
    if not marked:
        return None, None
    earned = fsum(check["points"] for check in marked if check["outcome"] in EARNS)
    return earned, fsum(check["points"] for check in marked)


def lost_points(pieces: Iterable[tuple[str, Iterable[dict[str, Any]]]]) -> list[dict[str, Any]]:
    """Return every mark that was not earned: piece, rule and points; takes ids with their checks."""
    return [
        {"piece": piece, "rule": check["rule"], "points": check["points"]}
        for piece, checks in pieces
        for check in checks
        if check.get("points") and check["outcome"] not in EARNS
    ]
