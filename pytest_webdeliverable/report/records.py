"""Records of the report: plain JSON types, because they also travel between processes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from pytest_webdeliverable.fit import expected_size
from pytest_webdeliverable.report.asked import asked_words

if TYPE_CHECKING:
    from pytest_webdeliverable.judge import Outcome
    from pytest_webdeliverable.manifest.model import Piece
    from pytest_webdeliverable.measure.facts import Measurements

_BULKY: Final = frozenset({"likeness"})
"""Facets that serve comparison only and say nothing to a reader."""


def check_record(outcome: Outcome) -> dict[str, Any]:
    """Return one entry of ``checks``."""
    record: dict[str, Any] = {
        "rule": outcome.rule,
        "family": outcome.family,
        "level": outcome.level,
        "outcome": outcome.result,
        "message": outcome.message,
        "advice": outcome.advice,
        "evidence": outcome.evidence,
    }
    if outcome.reason:
        record["reason"] = outcome.reason
    if outcome.points is not None:
        record["points"] = outcome.points
    return record


def piece_record(piece: Piece | None, measured: Measurements | None) -> dict[str, Any]:
    """Return one entry of ``pieces``, without its checks; the portfolio has neither piece nor facts."""
    if piece is None:
        return {"id": "portfolio", "measured": {}}
    record: dict[str, Any] = {
        "id": piece.id,
        "title": piece.title,
        "file": piece.file,
        "line": piece.line,
        "spec": piece.spec.name,
    }
    if piece.alt:
        record["alt"] = piece.alt
    if piece.spec.box:
        record["box"] = list(piece.spec.box)
    record["asked"] = asked_words(piece)
    if piece.copy_of:
        record["copy-of"] = piece.copy_of
    expected = expected_size(piece.spec, piece.trim)
    if expected is not None:
        record["expected"] = expected.as_json()
    if measured is not None:
        if "file" in measured:
            record["sha256"] = measured["file"]["sha256"]
        record["measured"] = {name: value for name, value in measured.items() if name not in _BULKY}
    return record
