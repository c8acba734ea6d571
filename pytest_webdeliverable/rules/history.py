"""Rules on what happened to a picture before. They rest on statistics, so they advise by default."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from pytest_webdeliverable.rules.base import Case, Family, PieceRule, Verdict, fails, holds

if TYPE_CHECKING:
    from pytest_webdeliverable.manifest.model import Level, Piece
    from pytest_webdeliverable.measure.facts import Facet


class _HistoryRule(PieceRule):
    """Base of the history rules."""

    family: ClassVar[Family] = "history"
    needs: ClassVar[frozenset[Facet]] = frozenset({"history"})
    default_level: ClassVar[Level] = "advise"


class Resaved(_HistoryRule):
    """The picture was compressed once only.

    A JPEG saved again keeps traces of its first, coarser steps (Farid 2009), found where the first
    quality was at least 5 below the last. In a git work tree the file is also compared with its previous
    version: the same size and nearly the same picture in other bytes was saved again.
    """

    needs: ClassVar[frozenset[Facet]] = frozenset({"history", "git"})

    def applies(self, piece: Piece) -> bool:
        return piece.spec.history is not None and piece.spec.history.resaved is False

    def check(self, case: Case) -> Verdict:
        facts = case.measured["history"]["resaved"]
        git = case.measured.get("git")
        previous = git["previous"] if git else None
        if previous is not None and previous["resaved"]:
            return fails(
                f"the picture is nearly that of commit {previous['commit']}, saved again: "
                "the same size, other bytes",
                previous=dict(previous),
            )
        if facts["found"]:
            first = facts["first-quality"]
            at = f" at about quality {first}" if first is not None else ""
            return fails(
                f"the picture carries traces of an earlier compression{at}",
                score=facts["score"],
            )
        return holds(facts.get("undecided") or "no trace of an earlier compression")


class CroppedAfterCompression(_HistoryRule):
    """The picture was not cropped after it had been compressed.

    JPEG works in blocks of 8 x 8 pixels (ITU-T T.81); if their grid does not start at the corner, the
    copy was cut from another copy and not exported from the original.
    """

    def applies(self, piece: Piece) -> bool:
        return piece.spec.history is not None and piece.spec.history.cropped is False

    def check(self, case: Case) -> Verdict:
        facts = case.measured["history"]["cropped"]
        if facts["found"]:
            offset = facts["offset"]
            where = f", shifted by {offset[0]} px across and {offset[1]} px down" if offset else ""
            return fails(
                f"blocks of an earlier compression show{where}: the picture was cropped after it",
                score=facts["score"],
                offset=offset,
            )
        return holds(facts.get("undecided") or "no shifted blocks of an earlier compression")


class Enlarged(_HistoryRule):
    """The picture was not enlarged from fewer pixels.

    Enlarging repeats its interpolation at a regular distance (Gallagher 2005) and adds no detail.
    """

    def applies(self, piece: Piece) -> bool:
        return piece.spec.history is not None and piece.spec.history.enlarged is False

    def check(self, case: Case) -> Verdict:
        facts = case.measured["history"]["enlarged"]
        if facts["found"]:
            factor = facts["factor"]
            by = f" to about {factor:.2g} times its size" if factor is not None else ""
            return fails(
                f"the picture carries traces of being enlarged{by}",
                "Go back to the original and export it at this size from its full resolution.",
                score=facts["score"],
                factor=factor,
            )
        return holds(facts.get("undecided") or "no trace of enlarging")
